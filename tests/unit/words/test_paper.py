"""The words of papers: every key that is spoken is there, and none that nobody speaks; values are put in as text."""

import re
from pathlib import Path

import pytest

from firstlift.certificate.settings import Kind, Regime
from firstlift.core.errors import FirstliftError, Severity
from firstlift.words.paper import ENGLISH, Speaker, languages
from firstlift.words.paper_en import WORDS

SOURCE = Path(__file__).parents[3] / "src" / "firstlift"
TEXT = "\n".join(path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py") if path.name != "paper_en.py")


def spoken():
    """Give every key named in the source, those made of a part that varies written out."""
    found = set(re.findall(r'"([a-z][a-z0-9-]*(?:\.[a-z0-9-]+)*)"', TEXT)) & WORDS.keys()
    found |= {f"title.{kind}" for kind in Kind} | {f"end.{kind}" for kind in Kind}
    found |= {f"regime.{regime}" for regime in Regime} | {f"severity.{severity}" for severity in Severity}
    found |= {f"channel.{name}" for name in ("lift", "sound", "force")}
    return found | {key for key in WORDS if re.fullmatch(r"(not-proved|cautions)\.\d", key)}


def test_no_words_are_kept_that_nobody_speaks():
    assert sorted(WORDS.keys() - spoken()) == []


def test_every_key_that_is_spoken_is_there():
    named = set(re.findall(r'\bsay\(\s*"([^"]+)"', TEXT))
    assert named, "no key was seen: does the scan still fit the source?"
    assert sorted(named - WORDS.keys()) == []


@pytest.mark.parametrize("hostile", ["{number}", "{0}", "{", "}}", "%s", "{number.__class__}"])
def test_a_value_is_put_in_as_it_stands(hostile):
    assert ENGLISH("pull", number=hostile) == f"pull {hostile}"


def test_another_language_or_key_is_told():
    with pytest.raises(FirstliftError, match="WRD-002"):
        Speaker("tlh")("pull", number=1)
    with pytest.raises(FirstliftError, match="WRD-003"):
        ENGLISH("no-such-key")
    assert "en" in languages()
