"""Half-filled forms, kept until they are sent: what somebody typed outlives a restart and waits on any device."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now
from firstlift.web.access_file import AccessFile

_KEPT = dt.timedelta(days=30)
_MOST = 40
_LONGEST_NAME = 400
_LONGEST = 40_000

Fields = dict[str, list[str]]


@dataclass(frozen=True, slots=True)
class Draft:
    """What stood in a form, by field, and when it was last typed in (UTC)."""

    form: str
    fields: Fields
    at: str


class Drafts(AccessFile):
    """The drafts in the file of sign-ins: everybody reads their own only."""

    def keep(self, person_id: UUID, form: str, fields: Fields) -> None:
        """Keep what stands in a form in the place of what stood there; WEB-009 where it is beyond measure.

        Drafts older than thirty days go, and of more than forty the oldest.
        """
        text = json.dumps(fields, ensure_ascii=False)
        if not form or len(form) > _LONGEST_NAME or not form.isprintable() or len(text) > _LONGEST:
            raise FirstliftError(
                Problem("WEB-009", "this draft is too long to be kept", "Draft", f"at most {_LONGEST} characters")
            )
        at, who = now(), str(person_id)
        with self.changed() as connection:
            connection.execute("DELETE FROM draft WHERE at < ?", (text_of(at - _KEPT),))
            connection.execute("INSERT OR REPLACE INTO draft VALUES (?, ?, ?, ?)", (who, form, text, text_of(at)))
            connection.execute(
                "DELETE FROM draft WHERE person_id = ? AND form NOT IN "
                "(SELECT form FROM draft WHERE person_id = ? ORDER BY at DESC, rowid DESC LIMIT ?)",
                (who, who, _MOST),
            )

    def kept(self, person_id: UUID, path: str) -> list[Draft]:
        """Give a person's drafts of the forms of one page."""
        query = "SELECT form, fields, at FROM draft WHERE person_id = ? AND substr(form, 1, ?) = ? ORDER BY form"
        begins = f"{path}|"
        with self.opened() as connection:
            rows = connection.execute(query, (str(person_id), len(begins), begins)).fetchall()
        return [Draft(row["form"], json.loads(row["fields"]), row["at"]) for row in rows]

    def drop(self, person_id: UUID, form: str) -> None:
        """Forget a draft: it was sent, or is not wanted."""
        with self.opened() as connection:
            connection.execute("DELETE FROM draft WHERE person_id = ? AND form = ?", (str(person_id), form))


def read_fields(text: str) -> Fields:
    """Read what a page says stands in a form.

    Parameters
    ----------
    text : str
        JSON: each field's name with the list of its values.

    Returns
    -------
    dict of str to list of str

    Raises
    ------
    FirstliftError
        WEB-009.
    """
    try:
        fields: Any = json.loads(text[: 2 * _LONGEST])
    except (ValueError, RecursionError):
        fields = None
    if isinstance(fields, dict) and all(map(_texts, fields.values())):
        return fields
    raise FirstliftError(Problem("WEB-009", "a draft could not be read", "Draft", "the fields of a form"))


def _texts(values: Any) -> bool:
    return isinstance(values, list) and all(isinstance(value, str) for value in values)
