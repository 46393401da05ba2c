"""What goes on beside the pages, round after round, until the app ends: web-hooks and the outbox."""

from __future__ import annotations

import sqlite3
import sys
import threading
from abc import ABC, abstractmethod

from firstlift.core.errors import FirstliftError

_PAUSE_S = 2.0


class Rounds(ABC):
    """Goes round in a thread of its own; a round that fails is told and made up for by the next.

    Parameters
    ----------
    name : str
        Said where a round fails.
    patience_s : float, [s]
        How long the end waits for what is under way.
    """

    def __init__(self, name: str, patience_s: float) -> None:
        self._name = name
        self._patience_s = patience_s
        self._stopped = threading.Event()
        self._soon = threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Begin, beside whatever else goes on."""
        self._thread.start()

    def stop(self) -> None:
        """End; what is under way is finished or given up within its time."""
        self._stopped.set()
        self._soon.set()
        self._thread.join(self._patience_s)

    def go_soon(self) -> None:
        """Begin the next round now."""
        self._soon.set()

    def _run(self) -> None:
        while True:
            self._soon.wait(_PAUSE_S)
            self._soon.clear()
            if self._stopped.is_set():
                return
            try:
                self.go_once()
            except (FirstliftError, sqlite3.Error, OSError) as error:
                # told, and tried again at the next round: nothing is lost, as nothing was taken up
                sys.stderr.write(f"firstlift: {self._name} wait: {error}\n")

    @abstractmethod
    def go_once(self) -> int:
        """Go round once; gives how many things were done."""
