"""A small invented register, and the app on it."""

import datetime as dt
import re
import shutil
from contextlib import contextmanager
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from tests.web.app_server import served
from tests.web.keyboard import Keys
from tests.web.traces_page import chromium

from firstlift.core.register.work import ValveTest
from firstlift.demo.register.build import fill_demo_register
from firstlift.store.open import open_store
from firstlift.web import passwords
from firstlift.web.settings import Settings

TODAY = dt.date(2026, 11, 25)
SIZES = {"laptop": (1280, 800), "tablet": (820, 1180)}


@pytest.fixture(scope="session")
def grown(tmp_path_factory):
    """The invented register, a sixth of it, made once."""
    folder = tmp_path_factory.mktemp("grown") / "register"
    fill_demo_register(folder, today=TODAY, size=0.15).close()
    return folder


@pytest.fixture
def register(grown, tmp_path, monkeypatch):
    """A copy to work in."""
    monkeypatch.setenv("FIRSTLIFT_HOME", str(tmp_path / "home"))
    return Path(shutil.copytree(grown, tmp_path / "register"))


@pytest.fixture
def store(register):
    opened = open_store(register)
    yield opened
    opened.close()


@pytest.fixture
def laptop(store, register):
    """The app of a single laptop: nobody signs in."""
    with served(store, Settings(register / "accounts.sqlite", invented=True)) as browser:
        yield browser


@pytest.fixture
def shared(store, register):
    """The app where everybody signs in."""
    with served(store, Settings(register / "accounts.sqlite", sign_in=True)) as browser:
        yield browser


@pytest.fixture
def ada(laptop):
    """A technician at the laptop."""
    return laptop.work_as("Ada Quillfeather")


@pytest.fixture
def outside(store):
    """The latest recorded test that was judged outside."""
    with store.read() as reader:
        return next(t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256 and t.verdict == "outside")


@pytest.fixture(scope="module")
def office(grown, tmp_path_factory):
    """The app where everybody signs in, on one copy for all tests of a module: they may add, not count on emptiness."""
    register = Path(shutil.copytree(grown, tmp_path_factory.mktemp("office") / "register"))
    opened = open_store(register)
    settings = Settings(register / "accounts.sqlite", sign_in=True, hooks_to=("127.0.0.0/8",))
    with served(opened, settings) as browser:
        yield browser
    opened.close()


@pytest.fixture(scope="module")
def browser():
    with chromium() as started:
        yield started


@pytest.fixture
def opened(browser, laptop):
    """Give a function that opens a page of somebody's; nothing may be asked of anywhere else."""
    contexts = []

    def opened(name, size="laptop", **more):
        width, height = SIZES[size]
        context = browser.new_context(
            viewport={"width": width, "height": height}, base_url=laptop.url, has_touch=size == "tablet", **more
        )
        contexts.append(context)
        page = context.new_page()
        page.asked = []
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto("/who")
        page.get_by_role("button", name=re.compile(name)).press("Enter")
        page.wait_for_url("**/")
        return page

    yield opened
    for context in contexts:
        elsewhere = [
            url
            for page in context.pages
            for url in page.asked
            if not url.startswith((laptop.url, laptop.url.replace("http", "ws"), "data:"))
        ]
        context.close()
        assert elsewhere == []


@pytest.fixture
def hands(browser, laptop):
    """Give a function that has somebody come to the app with a keyboard alone, touching nothing else."""
    contexts = []

    def hands(name, size="laptop", **more):
        width, height = SIZES[size]
        viewport = {"width": width, "height": height}
        context = browser.new_context(viewport=viewport, base_url=laptop.url, **more)
        contexts.append(context)
        page = context.new_page()
        page.goto("/")
        return Keys(page).follow(name, tag="button")

    yield hands
    for context in contexts:
        context.close()


def faults(page):
    return [(found["id"], found["nodes"][0]["html"]) for found in Axe().run(page).response["violations"]]


@pytest.fixture
def quick(monkeypatch):
    """Passwords that are hashed fast enough for tests."""
    monkeypatch.setattr(passwords, "_N", 2**8)


@pytest.fixture
def comes(browser, shared):
    """Give a function that opens the app in a browser of somebody's own, and hold it to asking nobody else."""

    @contextmanager
    def comes(size="laptop"):
        width, height = SIZES[size]
        viewport = {"width": width, "height": height}
        context = browser.new_context(viewport=viewport, base_url=shared.url, has_touch=size == "tablet")
        page, asked = context.new_page(), []
        page.on("request", lambda request: asked.append(request.url))
        page.goto("/")
        yield page
        context.close()
        assert [url for url in asked if not url.startswith((shared.url, "data:"))] == []

    return comes
