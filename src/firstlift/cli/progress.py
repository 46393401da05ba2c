"""A progress bar on stderr, where that is a terminal; nothing anywhere else."""

from __future__ import annotations

import sys
import time
from types import TracebackType

_WIDTH = 28
_LEAST_S = 0.1


class Progress:
    """Draws how far something is: at most ten times a second, and gone at the end."""

    def __init__(self, noun: str) -> None:
        self._noun = noun
        self._live = sys.stderr.isatty()
        self._drawn = 0.0
        self._longest = 0

    def __call__(self, share: float, count: int) -> None:
        """Draw the share done, 0 to 1, and the number of things done."""
        if not self._live or time.monotonic() - self._drawn < _LEAST_S:
            return
        self._drawn = time.monotonic()
        self._write(bar(share, count, self._noun))

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._longest:
            self._write("")
            sys.stderr.write("\r")
            sys.stderr.flush()

    def _write(self, text: str) -> None:
        self._longest = max(self._longest, len(text))
        sys.stderr.write("\r" + text.ljust(self._longest))
        sys.stderr.flush()


def bar(share: float, count: int, noun: str) -> str:
    """Give the bar as text.

    Parameters
    ----------
    share : float
        0 to 1.
    count : int
    noun : str

    Returns
    -------
    str
    """
    share = min(1.0, max(0.0, share))
    full = int(share * _WIDTH)
    return f"[{'#' * full}{'.' * (_WIDTH - full)}] {share * 100:3.0f} %  {count:,} {noun}"
