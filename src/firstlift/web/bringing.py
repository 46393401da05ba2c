"""Imports of many job sheets, worked off one by one beside the pages: they can be watched, left alone, and stopped."""

from __future__ import annotations

import shutil
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import ValveTest

_REMEMBERED = 40
# analysing takes a whole core: two imports take turns
_turn = threading.Lock()


@dataclass(frozen=True, slots=True)
class Brought:
    """What became of one job sheet: a kept test, or the problems."""

    name: str
    test: ValveTest | None = None
    tag: str = ""
    problems: tuple[Problem, ...] = ()


class Bringing:
    """One import. Its files lie in a folder of its own until it is over; a test that came in stays in any case.

    Parameters
    ----------
    folder : Path
        Made for this import; taken away when it is over.
    sheets : sequence of Path
        Within it.
    bring : callable of Path to Brought
        Analyses one sheet and keeps its test.
    person_id : UUID
        Who began it; nobody else sees or stops it.
    visit_id : UUID or None
    """

    def __init__(
        self,
        folder: Path,
        sheets: Sequence[Path],
        bring: Callable[[Path], Brought],
        *,
        person_id: UUID,
        visit_id: UUID | None,
    ) -> None:
        self.id = uuid4()
        self.person_id = person_id
        self.visit_id = visit_id
        self.total = len(sheets)
        self.brought: list[Brought] = []
        self.now = ""
        self._folder, self._sheets, self._bring = folder, tuple(sheets), bring
        self._stop, self._over = threading.Event(), threading.Event()

    @property
    def over(self) -> bool:
        """Whether nothing more comes."""
        return self._over.is_set()

    @property
    def stopping(self) -> bool:
        """Whether somebody asked it to stop."""
        return self._stop.is_set()

    @property
    def left(self) -> int:
        """How many sheets were not looked at."""
        return self.total - len(self.brought)

    def begin(self) -> None:
        """Work in a thread of its own."""
        threading.Thread(target=self._work, name="firstlift-import", daemon=True).start()

    def stop(self) -> None:
        """Stop after the sheet that is being analysed."""
        self._stop.set()

    def wait(self, seconds: float) -> bool:
        """Wait until it is over, at most so long; say whether it is."""
        return self._over.wait(seconds)

    def _work(self) -> None:
        try:
            for sheet in self._sheets:
                with _turn:
                    if self.stopping:
                        break
                    self.now = str(sheet.relative_to(self._folder))
                    self.brought.append(self._one(sheet))
        finally:
            self.now = ""
            shutil.rmtree(self._folder, ignore_errors=True)
            self._over.set()

    def _one(self, sheet: Path) -> Brought:
        try:
            return self._bring(sheet)
        except FirstliftError as error:
            return Brought(self.now, problems=error.problems)
        except Exception as error:  # noqa: BLE001  the thread's last edge: one sheet must not hold up the others
            return Brought(self.now, problems=(Problem("USE-001", f"an error nobody foresaw: {type(error).__name__}"),))


class Imports:
    """The imports of this process, the latest forty."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[UUID, Bringing] = OrderedDict()

    def begin(self, bringing: Bringing) -> None:
        """Begin one, and remember it."""
        with self._lock:
            self._known[bringing.id] = bringing
            over = [each.id for each in self._known.values() if each.over]
            for each in over[: max(0, len(self._known) - _REMEMBERED)]:
                del self._known[each]
        bringing.begin()

    def find(self, bringing_id: UUID, person_id: UUID) -> Bringing | None:
        """Give one's own import, or None."""
        with self._lock:
            found = self._known.get(bringing_id)
        return found if found is not None and found.person_id == person_id else None

    def running(self, person_id: UUID) -> list[Bringing]:
        """Give one's own imports that are not over."""
        with self._lock:
            return [each for each in self._known.values() if each.person_id == person_id and not each.over]


def new_folder() -> Path:
    """Make a folder for the files of an import.

    Returns
    -------
    Path
    """
    return Path(tempfile.mkdtemp(prefix="firstlift-import-"))
