"""A short campaign of kills; the long one is `python tools/crash_campaign.py`."""

import importlib.util
import os
from pathlib import Path

import pytest

TOOL = Path(__file__).parents[3] / "tools" / "crash_campaign.py"


@pytest.fixture(scope="module")
def campaign():
    spec = importlib.util.spec_from_file_location("crash_campaign", TOOL)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is not known there")
def test_a_register_killed_at_any_moment_keeps_its_word(campaign, tmp_path):
    figures = campaign.campaign(8, 5, tmp_path)
    assert (figures["kills_count"], figures["broken_count"]) == (8, 0)
    assert figures["promises_count"] > 0


def test_a_broken_promise_is_seen(campaign, tmp_path):
    campaign.make_register(tmp_path)
    lost = "0" * 31 + "1"
    (tmp_path / "promised.log").write_text(f"test {lost} {'a' * 64}\nimport x\nbackup backup-y\nbackup cut o")
    wrong = campaign.check(tmp_path)
    assert [line.split()[0] for line in wrong] == ["test", "import", "backup-y"]
