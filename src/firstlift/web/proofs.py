"""The proof of the chain, run beside the pages: a register of many tests takes minutes."""

from __future__ import annotations

import datetime as dt
import sys
import threading
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError
from firstlift.store.audit import Report, audit
from firstlift.store.open import Store
from firstlift.usecases.register.place import now
from firstlift.web.deeds import Deed, note

_MOST_TOLD = 20


@dataclass(frozen=True, slots=True)
class Proof:
    """A proof: under way while ``ended_at`` is None. ``trouble`` where it could not be made."""

    who: str
    begun_at: dt.datetime
    ended_at: dt.datetime | None = None
    report: Report | None = None
    trouble: str = ""

    @property
    def holds(self) -> bool:
        """Whether the chain, and all that hangs on it, holds."""
        return self.report is not None and not self.report.faults

    @property
    def broken(self) -> int | None:
        """The first entry of the chain that does not hold, or that something else hangs on that does not."""
        numbers = [fault.number for fault in self.report.faults if fault.number] if self.report else []
        return min(numbers, default=None)

    @property
    def told(self) -> list[tuple[str, str]]:
        """What does not hold and why, the first of them."""
        faults = self.report.faults[:_MOST_TOLD] if self.report else ()
        return [(fault.what, fault.reason) for fault in faults]


class Proofs:
    """The latest proof; one is made at a time.

    Parameters
    ----------
    store : Store
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._latest: Proof | None = None

    @property
    def latest(self) -> Proof | None:
        """The proof that is under way, or the last one since the app was started."""
        return self._latest

    def begin(self, who: str) -> None:
        """Begin one, where none is under way."""
        with self._lock:
            if self._latest is not None and self._latest.ended_at is None:
                return
            self._latest = Proof(who, now())
        threading.Thread(target=self._prove, args=(who, self._latest.begun_at), name="proof", daemon=True).start()

    def _prove(self, who: str, begun_at: dt.datetime) -> None:
        try:
            with self._store.read() as reader:
                report = audit(reader)
            result = "holds" if not report.faults else "broken"
            made = Proof(who, begun_at, now(), report)
            said = {} if made.broken is None else {"broken": str(made.broken)}
            note(
                self._store, Deed.CHAIN_PROVED, who=who, about=report.store_id,
                entries=str(report.entries), result=result, **said,
            )  # fmt: skip
        except (FirstliftError, OSError) as error:
            sys.stderr.write(f"firstlift: the proof could not be made: {error}\n")
            made = Proof(who, begun_at, now(), trouble=str(error)[:300])
        self._latest = made
