"""docs/planning.md names what planning asks, stops at and takes, and its commands' options exist."""

import re
from pathlib import Path

import pytest

from firstlift.cli.main import build_parser
from firstlift.core.adjust.allowed import GROUP_RULES
from firstlift.core.plan.applies import QUESTIONS
from firstlift.core.plan.cards import EVENTS
from firstlift.core.plan.inputs import DEFAULT_STOP_SHARE, HIGHEST_LINE_SHARE, NEVER_STOP_SHARE, PRIOR_SHARE

PAGE = (Path(__file__).parents[2] / "docs" / "planning.md").read_text(encoding="utf-8")
NUMBERS = {"eleven": 11}


def options_of(command, capsys):
    with pytest.raises(SystemExit):
        build_parser().parse_args([command, "--help"])
    return set(re.findall(r"--[a-z-]+", capsys.readouterr().out))


def test_every_option_on_the_page_is_one_of_a_command(capsys):
    known = set().union(*(options_of(command, capsys) for command in ("plan", "adjust", "hazard")))
    assert set(re.findall(r"--[a-z][a-z-]+", PAGE)) - known == set()


def test_the_questions_are_counted_and_listed_in_the_help(capsys):
    (word,) = re.findall(r"\*\*Does the method apply\?\*\* (\w+) questions", PAGE)
    assert NUMBERS[word.lower()] == len(QUESTIONS)
    with pytest.raises(SystemExit):
        build_parser().parse_args(["plan", "--help"])
    told = " ".join(capsys.readouterr().out.split())
    for question in QUESTIONS:
        assert f"{question.code} ({', '.join(question.answers)})" in told


def test_the_pages_numbers_are_the_codes_own():
    for share in (DEFAULT_STOP_SHARE, NEVER_STOP_SHARE, HIGHEST_LINE_SHARE, PRIOR_SHARE):
        assert f"{share:.0%}".replace("%", " %") in PAGE


def test_every_card_is_named():
    assert [event for event in EVENTS if f"`{event}`" not in PAGE and f"--card {event}`" not in PAGE] == []


def test_what_a_group_may_do_is_the_codes_own():
    rows = {row.split("|")[1].strip(): row for row in PAGE.splitlines() if row.startswith("| ASME")}
    assert f"{GROUP_RULES['asme-i'].further_share:.0%}".replace("%", " %") in rows["ASME I"]
    assert f"{GROUP_RULES['asme-xiii'].further_share:.0%}".replace("%", " %") in rows["ASME VIII-1, XIII"]
    assert f"{GROUP_RULES['asme-xiii'].fire_share:.0%}".replace("%", " %") in rows["ASME VIII-1, XIII"]
    assert f"{GROUP_RULES['asme-iv-water'].further_share:.0%}".replace("%", " %") in rows["ASME IV, hot water"]


def test_the_page_says_who_decides():
    assert "The owner's permit and local codes decide" in " ".join(PAGE.split())
