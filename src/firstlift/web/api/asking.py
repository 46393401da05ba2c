"""What other systems ask for: visits to plan, web-hooks. Each is done once, however often it is asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any
from uuid import UUID

from fastapi import FastAPI, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import SiteVisit, ValveTest
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.visits import VisitAsked, plan_visit
from firstlift.web.api.answers import Limit, Needs, Offset
from firstlift.web.api.once import Key, Once, id_for
from firstlift.web.api.shapes import HookIn, HookMade, HookOut, VisitIn, VisitOut
from firstlift.web.deeds import Deed, note
from firstlift.web.hooks.address import Network, check_url
from firstlift.web.hooks.events import EventKind
from firstlift.web.hooks.kept import Hooks
from firstlift.web.tokens import Scope, Token

# an event is told only to who may read what it tells
_SCOPE_OF = {
    EventKind.CERTIFICATE_ISSUED: Scope.CERTIFICATES,
    EventKind.FOUND_OUTSIDE: Scope.RESULTS,
    EventKind.FOUND_UNFIT: Scope.RESULTS,
}


def add_visits(api: FastAPI, store: Store, needs: Needs, once: Once) -> None:
    """Add visits.

    Parameters
    ----------
    api : FastAPI
    store : Store
    needs : callable (scope) -> dependency
    once : Once
    """
    client = needs(Scope.VISITS)

    @api.get("/visits")
    def visits(token: Token = client, limit: Limit = 50, offset: Offset = 0) -> list[VisitOut]:
        """Give visits, the latest first."""
        with store.read() as reader:
            found = reader.list(SiteVisit, order=("-start", "-id"), limit=limit, offset=offset)
            return [_visit(reader, one) for one in found]

    @api.get("/visits/{visit_id}")
    def visit(visit_id: UUID, token: Token = client) -> VisitOut:
        """Give one visit."""
        with store.read() as reader:
            return _visit(reader, reader.get(SiteVisit, visit_id))

    @api.post("/visits", status_code=201, response_model=VisitOut)
    def plan(asked: VisitIn, key: Key, token: Token = client) -> Response:
        """Plan a visit of valves at a site."""
        wanted = VisitAsked(asked.site_id, asked.start, tuple(asked.valves), asked.name, tuple(asked.permits))

        def do() -> dict[str, Any]:
            made = plan_visit(store, wanted, who=token.who, visit_id=id_for(store.id, token, key))
            with store.read() as reader:
                return asdict(_visit(reader, made))

        return once.answer(token, key, ["visit", asdict(asked)], do)


def _visit(reader: Reader, one: SiteVisit) -> VisitOut:
    tested = {test.valve_id for test in reader.list(ValveTest, visit_id=one.id)}
    done = [valve for valve in one.planned if valve in tested]
    return VisitOut(one.id, one.site_id, one.name, one.start, one.finish, list(one.planned), done, list(one.permits))


def add_hooks(api: FastAPI, store: Store, needs: Needs, once: Once, told: tuple[Hooks, Sequence[Network]]) -> None:
    """Add web-hooks; a client sees and ends its own only.

    Parameters
    ----------
    api : FastAPI
    store : Store
    needs : callable (scope) -> dependency
    once : Once
    told : (Hooks, sequence of networks)
        Where they are kept, and which networks of one's own they may go to.
    """
    hooks, networks = told
    client = needs(Scope.HOOKS)

    @api.get("/web-hooks")
    def own_hooks(token: Token = client) -> list[HookOut]:
        """Give the client's web-hooks, with how their deliveries stand."""
        return [
            HookOut(one.id, one.url, list(one.events), one.made_at, one.waiting, one.said)
            for one in hooks.every()
            if one.token == token.mark
        ]

    @api.post("/web-hooks", status_code=201, response_model=HookMade)
    def make_hook(asked: HookIn, key: Key, token: Token = client) -> Response:
        """Have events sent to an address, signed by a secret that is shown this once."""
        for event in asked.events:
            if _SCOPE_OF[event] not in token.scopes:
                raise FirstliftError(
                    Problem("WEB-003", f"the token may not read what {event} tells", needed=f"scope {_SCOPE_OF[event]}")
                )

        def do() -> dict[str, Any]:
            check_url(asked.url, networks)
            with store.read() as reader:
                seen = Hooks.head(reader)
            hook_id = id_for(store.id, token, key)
            made = hooks.make(hook_id, token.mark, asked.url, tuple(dict.fromkeys(asked.events)), seen)
            note(store, Deed.HOOK_MADE, who=token.who, about=made.id, events=" ".join(made.events))
            return asdict(HookMade(made.id, made.url, list(made.events), made.secret))

        return once.answer(token, key, ["web-hook", asdict(asked)], do)

    @api.delete("/web-hooks/{hook_id}", status_code=204)
    def end_hook(hook_id: UUID, token: Token = client) -> Response:
        """End one of the client's web-hooks; what was not delivered is not."""
        own = {one.id for one in hooks.every() if one.token == token.mark}
        if hook_id not in own:
            raise FirstliftError(Problem("WEB-005", "the client has no such web-hook", str(hook_id), "one of its own"))
        hooks.end(hook_id)
        note(store, Deed.HOOK_ENDED, who=token.who, about=hook_id)
        return Response(status_code=204)
