"""Help: the keys, the way through a job, and the trade's words for who is new to it."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.web.here import HereNow
from firstlift.web.page import show

router = APIRouter()


@router.get("/help")
def help_page(here: HereNow) -> Response:
    """Show the help; the app opens it over any page as well."""
    return show(here, "help.html")
