"""The pages, one module a screen; each has a router of its own."""

from __future__ import annotations

from firstlift.web.pages import (
    clients,
    fleet,
    importing,
    instruments,
    papers,
    plans,
    pocket,
    register,
    reviewing,
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
        tests,
        reviewing,
        papers,
        verify,
        instruments,
        plans,
        fleet,
        pocket,
        settings,
        clients,
    )
)
