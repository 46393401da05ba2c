"""What several folders of tests share."""

import importlib.util
from pathlib import Path

import pytest


@pytest.fixture(scope="session", autouse=True)
def home(tmp_path_factory):
    """What the program keeps for its user goes to a folder of the tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FIRSTLIFT_HOME", str(tmp_path_factory.mktemp("home")))
        yield


@pytest.fixture(scope="session")
def made():
    """Writers of recordings that no library of ours writes: MDF, WAV, LVM, MATLAB 7.3."""
    spec = importlib.util.spec_from_file_location("made_recordings", Path(__file__).parent / "made_recordings.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
