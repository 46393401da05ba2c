"""The pages, one module a screen; each has a router of its own."""

from __future__ import annotations

from firstlift.web.pages import (
    account,
    adjusting,
    clients,
    comparing,
    drafts,
    fleet,
    help,
    importing,
    instruments,
    papers,
    people,
    plans,
    pocket,
    register,
    reviewing,
    seat_new,
    seats,
    settings,
    spreadsheet,
    tests,
    today,
    valve,
    verify,
    visits,
)

ROUTERS = tuple(
    module.router
    for module in (
        today,
        visits,
        importing,
        register,
        spreadsheet,
        valve,
        seat_new,
        seats,
        tests,
        reviewing,
        adjusting,
        comparing,
        papers,
        verify,
        instruments,
        plans,
        fleet,
        pocket,
        settings,
        account,
        people,
        clients,
        drafts,
        help,
    )
)
