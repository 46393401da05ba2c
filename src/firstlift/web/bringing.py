"""Imports of many job sheets, or of many rows, worked off beside the pages: watched, left alone, stopped."""

from __future__ import annotations

import shutil
import tempfile
import threading
from abc import ABC, abstractmethod
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar
from uuid import UUID, uuid4, uuid5

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import ValveTest
from firstlift.usecases.import_sheet import Progress
from firstlift.usecases.import_taker import ImportReport
from firstlift.web.sheet_said import SheetSaid

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


class Beside(ABC):
    """Work that is done in a thread of its own, beside the pages; whoever began it watches and stops it.

    Parameters
    ----------
    person_id : UUID
    """

    def __init__(self, person_id: UUID) -> None:
        self.id = uuid4()
        self.person_id = person_id
        self._stop, self._over = threading.Event(), threading.Event()

    @property
    def over(self) -> bool:
        """Whether nothing more comes."""
        return self._over.is_set()

    @property
    def stopping(self) -> bool:
        """Whether somebody asked it to stop."""
        return self._stop.is_set()

    def begin(self) -> None:
        """Begin the work."""
        threading.Thread(target=self._run, name="firstlift-import", daemon=True).start()

    def stop(self) -> None:
        """Ask it to stop where it next can."""
        self._stop.set()

    def wait(self, seconds: float) -> bool:
        """Wait until it is over, at most so long; say whether it is."""
        return self._over.wait(seconds)

    @abstractmethod
    def work(self) -> None:
        """Do it."""

    def _run(self) -> None:
        try:
            self.work()
        finally:
            self._over.set()


class Bringing(Beside):
    """The import of many sheets. Its files lie in a folder of its own until it is over; a test that came in stays.

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
        super().__init__(person_id)
        self.visit_id = visit_id
        self.total = len(sheets)
        self.brought: list[Brought] = []
        self.now = ""
        self._folder, self._sheets, self._bring = folder, tuple(sheets), bring

    @property
    def left(self) -> int:
        """How many sheets were not looked at."""
        return self.total - len(self.brought)

    def work(self) -> None:
        """Take the sheets one by one, until somebody stops it."""
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

    def _one(self, sheet: Path) -> Brought:
        try:
            return self._bring(sheet)
        except FirstliftError as error:
            return Brought(self.now, problems=error.problems)
        except Exception as error:  # noqa: BLE001  the thread's last edge: one sheet must not hold up the others
            return Brought(self.now, problems=unforeseen_problems(error))


class Taking(Beside):
    """The import of a spreadsheet, in one transaction: stopped, nothing of it is kept.

    Parameters
    ----------
    take : callable
        Takes the rows in; is given what it calls with the share done and the rows read.
    person_id : UUID
    """

    def __init__(self, take: Callable[[Progress], ImportReport], *, person_id: UUID) -> None:
        super().__init__(person_id)
        self.share = 0.0
        self.rows = 0
        self.report: ImportReport | None = None
        self.problems: tuple[Problem, ...] = ()
        self._take = take

    def work(self) -> None:
        """Take the rows in, until somebody stops it."""
        try:
            self.report = self._take(self._tell)
        except _StoppedError:
            pass
        except FirstliftError as error:
            self.problems = error.problems
        except Exception as error:  # noqa: BLE001  the thread's last edge: its page must not wait for ever
            self.problems = unforeseen_problems(error)

    @property
    def stopped(self) -> bool:
        """Whether it ended because somebody stopped it."""
        return self.over and self.report is None and not self.problems

    def _tell(self, share: float, rows: int) -> None:
        if self.stopping:
            raise _StoppedError
        self.share, self.rows = share, rows


class Looking(Taking):
    """The look at a spreadsheet before it is taken: nothing is written, and it can be stopped.

    Parameters
    ----------
    look : callable
        Reads the rows; is given what it calls with the share done and the rows read.
    person_id : UUID
    asked : sequence of str
        The file and what was said of it: who asks the same again finds the same look.
    """

    def __init__(self, look: Callable[[Progress], ImportReport], *, person_id: UUID, asked: Sequence[str]) -> None:
        super().__init__(look, person_id=person_id)
        self.id = uuid5(person_id, "\n".join(asked))


class TakingSheet(Taking):
    """The taking of a spreadsheet, with what was said of it: where nothing was kept, its page asks again.

    Parameters
    ----------
    take : callable
        As of Taking.
    said : SheetSaid
    person_id : UUID
    """

    def __init__(self, take: Callable[[Progress], ImportReport], said: SheetSaid, *, person_id: UUID) -> None:
        super().__init__(take, person_id=person_id)
        self.said = said


class _StoppedError(Exception):
    """Ends the transaction of an import that somebody stopped."""


def unforeseen_problems(error: Exception) -> tuple[Problem, ...]:
    """Say that something failed that nobody foresaw.

    Parameters
    ----------
    error : Exception

    Returns
    -------
    tuple of Problem
    """
    return (Problem("USE-001", f"an error nobody foresaw: {type(error).__name__}"),)


J = TypeVar("J", bound=Beside)


class Imports(Generic[J]):
    """The imports of one kind in this process, the latest forty."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[UUID, J] = OrderedDict()

    def begin(self, one: J) -> None:
        """Begin one, and remember it."""
        with self._lock:
            self._known[one.id] = one
            over = [each.id for each in self._known.values() if each.over]
            for each in over[: max(0, len(self._known) - _REMEMBERED)]:
                del self._known[each]
        one.begin()

    def forget(self, job_id: UUID) -> None:
        """Forget one: whoever asks for the same again has it done anew."""
        with self._lock:
            self._known.pop(job_id, None)

    def find(self, job_id: UUID, person_id: UUID) -> J | None:
        """Give one's own import, or None."""
        with self._lock:
            found = self._known.get(job_id)
        return found if found is not None and found.person_id == person_id else None

    def running(self, person_id: UUID) -> list[J]:
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
