"""Types of the first schema, frozen with it."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

_NOW = sa.text("until IS NULL")
OPEN: dict[str, Any] = {"sqlite_where": _NOW, "postgresql_where": _NOW}


def key(length: int) -> sa.types.TypeEngine[str]:
    """Give a text that sorts by its bytes on both engines.

    Parameters
    ----------
    length : int, [characters]

    Returns
    -------
    sqlalchemy type
    """
    return sa.String(length).with_variant(sa.String(length, collation="C"), "postgresql")
