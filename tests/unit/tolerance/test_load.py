from decimal import Decimal

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.tolerance.load import parse_rule_set
from firstlift.core.valve import Definition, Medium
from firstlift.formats.rulesets import read_rule_set

TABLE = """
format = "firstlift-rules-1"
code = "works-7"
name = "invented works rule"
edition = "1"
clause = "4"

[definition]
gas = "pop"
steam = "pop"
liquid = "first-lift"
status = "memory"
confidence = "low"
source = "invented"
pop_distance_relative = "0.03"
pop_distance_status = "common-practice"

[[column]]
unit = "bar"
serves = []

[[column.row]]
up_to = "5"
kind = "absolute"
absolute = "0.2"
status = "memory"
confidence = "low"
source = "invented"

[[column.row]]
kind = "relative"
relative = "0.04"
status = "memory"
confidence = "low"
source = "invented"
"""


def test_numbers_are_decimals():
    rule_set = parse_rule_set(TABLE)
    assert rule_set.columns[0].rows[0].up_to == Decimal(5)
    assert rule_set.columns[0].rows[1].relative == Decimal("0.04")
    assert rule_set.meaning.by_medium[Medium.STEAM] is Definition.POP


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('code = "works-7"', "code = ", "not TOML"),
        ('"firstlift-rules-1"', '"firstlift-rules-9"', "firstlift-rules-9"),
        ('edition = "1"\n', "", "edition = None"),
        ('gas = "pop"', 'gas = "bang"', "gas = 'bang'"),
        ('kind = "relative"', 'kind = "about"', "kind = 'about'"),
        ('absolute = "0.2"', 'absolute = "-0.2"', "absolute = '-0.2'"),
        ('absolute = "0.2"', 'absolute = "two"', "absolute = 'two'"),
        ('absolute = "0.2"', "absolute = 0.2", "absolute = 0.2"),
        ('up_to = "5"\n', "", "break points"),
        ('kind = "relative"', 'up_to = "4"\nkind = "relative"', "break points"),
        ('unit = "bar"', 'unit = "mm"', "unit = 'mm'"),
        ("serves = []", 'serves = ["furlong"]', "serves"),
        ("[definition]", "[meaning]", "[definition]"),
        ('status = "memory"', 'status = "sure"', "status = 'sure'"),
        ("[[column]]", "[column]", "[[column]]"),
    ],
)
def test_broken_table_is_refused_with_its_place(old, new, words):
    assert old in TABLE
    with pytest.raises(FirstliftError, match="TOL-001") as caught:
        parse_rule_set(TABLE.replace(old, new, 1), where="works-7.toml")
    assert words in str(caught.value)
    assert "works-7.toml" in str(caught.value)


@pytest.mark.parametrize("code", KNOWN_CODES)
def test_every_known_code_is_read(code):
    rule_set = read_rule_set(code)
    assert rule_set.code == code
    assert bool(rule_set.columns) is (code != "owner")


def test_iso_means_first_lift_and_asme_means_pop_for_gas():
    assert set(read_rule_set("iso-4126-1").meaning.by_medium.values()) == {Definition.FIRST_LIFT}
    meaning = read_rule_set("asme-xiii").meaning.by_medium
    assert (meaning[Medium.GAS], meaning[Medium.LIQUID]) == (Definition.POP, Definition.FIRST_LIFT)


def test_unknown_code_says_what_was_probably_meant():
    with pytest.raises(FirstliftError, match="TOL-006") as caught:
        read_rule_set("ASME XIII", where="job.toml line 20")
    assert "Did you mean 'asme-xiii'" in str(caught.value)
    assert "job.toml line 20" in str(caught.value)
    with pytest.raises(FirstliftError, match="code = 'owner'"):
        read_rule_set("zzz")
