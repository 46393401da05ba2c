"""A small invented register, and the app on it."""

import datetime as dt
import shutil
from pathlib import Path

import pytest
from tests.web.app_server import served

from firstlift.demo.register.build import fill_demo_register
from firstlift.store.open import open_store
from firstlift.web.settings import Settings

TODAY = dt.date(2026, 11, 25)


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
