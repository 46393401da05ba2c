"""The interface for other systems, under /api/v1: what they read, the visits they plan, the web-hooks they ask for."""

from __future__ import annotations

from fastapi import FastAPI

from firstlift import __version__
from firstlift.store.open import Store
from firstlift.web.api.answers import REFUSALS, answer_so, scopes_of
from firstlift.web.api.asking import add_hooks, add_visits
from firstlift.web.api.once import Once
from firstlift.web.api.reading import add_certificates, add_results, add_seats, add_valves
from firstlift.web.hooks.address import networks_of
from firstlift.web.hooks.kept import Hooks
from firstlift.web.settings import Settings
from firstlift.web.tokens import Tokens


def create_api(store: Store, settings: Settings) -> FastAPI:
    """Put the interface together.

    Parameters
    ----------
    store : Store
    settings : Settings

    Returns
    -------
    FastAPI
        To be mounted at /api/v1; its description is at openapi.json.
    """
    api = FastAPI(title="Firstlift", version=__version__, docs_url=None, redoc_url=None, responses=REFUSALS)
    answer_so(api)
    needs, once = scopes_of(Tokens(settings.accounts)), Once(settings.accounts)
    add_valves(api, store, needs)
    add_seats(api, store, needs)
    add_results(api, store, needs)
    add_certificates(api, store, needs)
    add_visits(api, store, needs, once)
    add_hooks(api, store, needs, once, (Hooks(settings.accounts), networks_of(settings.hooks_to)))
    return api
