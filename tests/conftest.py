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


@pytest.fixture(scope="session")
def letters(tmp_path_factory):
    """Give a language's folder with fonts, as an issuer names it: of squares for Chinese, none for the others."""
    from firstlift.words.catalogue import catalogue

    from .letters import make_font

    dates, of_the_probe = "年月日", "安全阀整定压力证书检验员签字，。：；（）“”、"
    words = "".join((*catalogue("zh").values(), dates, of_the_probe))
    folder = str(make_font(tmp_path_factory.mktemp("letters"), words))
    return lambda language: folder if language == "zh" else ""
