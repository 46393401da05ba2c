"""What was asked once is done once: a key that comes again gets the first answer again.

References
----------
.. [1] IETF draft "The Idempotency-Key HTTP Header Field" (memory): 400 without a key, 409 while the first is under way,
   422 where the key comes with something else.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable
from typing import Annotated, Any
from uuid import UUID, uuid5

from fastapi import Header
from fastapi.responses import JSONResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now
from firstlift.web.access_file import AccessFile
from firstlift.web.tokens import Token

_KEPT = dt.timedelta(days=7)
# who died under way: the same may be asked again
_UNDER_WAY = dt.timedelta(minutes=1)

Key = Annotated[
    str,
    Header(
        alias="Idempotency-Key",
        pattern=r"^[!-~]{1,200}$",
        description="Text of your own, new for every new thing; the same asked again gets the first answer again.",
    ),
]


class Once(AccessFile):
    """The answers given, by token and key."""

    def answer(self, token: Token, key: str, asked: Any, do: Callable[[], dict[str, Any]]) -> Response:
        """Do what is asked and keep the answer, or give the one that is kept.

        Parameters
        ----------
        token : Token
        key : str
        asked : Any
            Plain values: what the key stands for.
        do : callable
            Gives what was made, as plain values.

        Returns
        -------
        Response
            201.

        Raises
        ------
        FirstliftError
            WEB-012 it came with something else before, WEB-013 the first is under way.
        """
        digest = hashlib.sha256(json.dumps(asked, sort_keys=True, default=str).encode()).hexdigest()
        kept = self._begin(token.mark, key, digest)
        if kept is not None:
            return JSONResponse(json.loads(kept), 201, headers={"Idempotent-Replayed": "true"})
        try:
            made = do()
        except BaseException:
            self._forget(token.mark, key)
            raise
        with self.opened() as connection:
            query = "UPDATE answered SET status = 201, body = ? WHERE token = ? AND key = ?"
            connection.execute(query, (json.dumps(made, default=str), token.mark, key))
        return JSONResponse(json.loads(json.dumps(made, default=str)), 201)

    def _begin(self, mark: str, key: str, digest: str) -> str | None:
        """Take the key; gives the answer where it was given already."""
        at = now()
        with self.changed() as connection:
            connection.execute("DELETE FROM answered WHERE at < ?", (text_of(at - _KEPT),))
            row = connection.execute("SELECT * FROM answered WHERE token = ? AND key = ?", (mark, key)).fetchone()
            if row is not None and row["asked_sha256"] != digest:
                raise FirstliftError(
                    Problem("WEB-012", "the key came with something else before", "Idempotency-Key", "a new key")
                )
            if row is not None and row["status"] is not None:
                return str(row["body"])
            if row is not None and row["at"] > text_of(at - _UNDER_WAY):
                raise FirstliftError(
                    Problem("WEB-013", "the same is under way", "Idempotency-Key", "a short wait", "Ask again")
                )
            query = "INSERT OR REPLACE INTO answered (token, key, asked_sha256, at) VALUES (?, ?, ?, ?)"
            connection.execute(query, (mark, key, digest, text_of(at)))
        return None

    def _forget(self, mark: str, key: str) -> None:
        with self.opened() as connection:
            connection.execute("DELETE FROM answered WHERE token = ? AND key = ?", (mark, key))


def id_for(store_id: UUID, token: Token, key: str) -> UUID:
    """Give the identifier of what a key makes: the same again, so that a crash in between makes nothing twice.

    Parameters
    ----------
    store_id : UUID
    token : Token
    key : str

    Returns
    -------
    UUID
    """
    return uuid5(store_id, f"{token.mark} {key}")
