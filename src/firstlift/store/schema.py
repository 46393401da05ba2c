"""Bring a database's schema up to this release, and say which step it stands at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0004"


def alembic_config(connection: sa.Connection) -> Config:
    """Give Alembic's settings for a connection; the steps lie in the package.

    Parameters
    ----------
    connection : Connection
        In a transaction.

    Returns
    -------
    Config
    """
    # imported here: it costs a fifth of a second, and an up-to-date store does without
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def upgrade(connection: sa.Connection, step: str = "head") -> None:
    """Run the steps that are missing, in the connection's transaction.

    Parameters
    ----------
    connection : Connection
    step : str
        The step to reach.
    """
    from alembic import command

    command.upgrade(alembic_config(connection), step)


def step_of(connection: sa.Connection) -> str | None:
    """Give the step a database stands at; None where it holds no register.

    Parameters
    ----------
    connection : Connection

    Returns
    -------
    str or None
    """
    if not sa.inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()
