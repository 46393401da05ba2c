"""Every code has words, and no value of a finding is lost."""

import ast
from pathlib import Path

import pytest

from firstlift import words
from firstlift.core.errors import Finding, FirstliftError, Severity
from firstlift.core.job import Decision, Measures, Purpose
from firstlift.core.result import DispositionOutcome, Outcome, PullOutcome, VerdictOutcome
from firstlift.core.valve import Definition, Medium, ValveType
from firstlift.words.adjust_en import ADJUST
from firstlift.words.fields import fields_of
from firstlift.words.hazard_en import HAZARD
from firstlift.words.interval_en import INTERVAL
from firstlift.words.phrases_en import REFUSAL
from firstlift.words.plan_en import PLAN
from firstlift.words.sentences_en import JUDGEMENT, SENTENCES, SIGNALS, VALVE

SOURCE = Path(words.__file__).parents[1]
REQUIRED = [
    "stuck-first-pull",
    "stayed-open",
    "already-open",
    "frame-slip",
    "line-unsteady",
    "gauge-lag",
    "lift-signal-lost",
    "acoustic-signal-lost",
    "force-saturated",
    "force-dropout",
    "leaking-before-lift",
    "eccentric-pull",
    "friction",
    "channels-disagree",
    "repaired-samples",
    "torn-file",
    "gap",
    "temperature-missing",
    "zero-shift",
    "spring-setting-only",
    "preconditioned",
    "trend",
    "line-too-low-to-decide",
    "uncertainty-too-large-to-decide",
    "calibration-overdue",
    "not-lifted",
    "no-usable-force",
    "no-pull-found",
    "slack-not-proven",
    "seat-edges-only",
    "back-pressure-uncertain",
    "cap-on",
    "geometry-missing",
    "uncertainty-not-stated",
    "hum-removed",
    "late-start",
    "no-line-pressure",
    "too-few-openings",
    "openings-disagree",
    "lower-bound-high",
    "pop-distance-unknown",
    "temperature-both",
    "cold-test-pressure-used",
    "edition-differs",
    "gap-at-first-lift",
    "rate-too-low",
    "over-pull-limit",
]


def of(code, **parameters):
    return Finding(code, Severity.WARNING, 1, parameters)


def codes_made_in_source():
    """Give every literal code that the source makes a finding of."""
    for path in sorted(SOURCE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (
                isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) == "Finding"
            ):
                continue
            given = [*node.args[:1], *(k.value for k in node.keywords if k.arg == "code")]
            for value in given:
                if isinstance(value, ast.Constant) and isinstance(value.value, str):
                    yield value.value, path.name


def test_every_required_code_has_a_row():
    assert set(REQUIRED) <= set(SENTENCES)
    assert len(SENTENCES) == sum(len(table) for table in (VALVE, SIGNALS, JUDGEMENT, INTERVAL, PLAN, ADJUST, HAZARD))


def test_every_code_made_in_the_source_has_a_row():
    made = list(codes_made_in_source())
    assert len(made) > 5
    assert [(code, name) for code, name in made if code not in SENTENCES] == []


@pytest.mark.parametrize("code", SENTENCES)
def test_words_without_any_parameter_are_whole_sentences(code):
    for text in (words.message(of(code)), words.advice(of(code))):
        assert text[0].isupper()
        assert text.endswith(".")
        assert not set("{}[]") & set(text)
        assert "  " not in text
        assert " ." not in text
        assert " ," not in text
    assert words.title(code) == words.title(code).strip()
    assert words.reason_for_refusal(code).startswith("No set pressure is given: ")


@pytest.mark.parametrize("code", SENTENCES)
def test_words_with_every_parameter_show_every_value(code):
    optional, bare = fields_of(SENTENCES[code].message)
    assert bare == set()
    text = words.message(of(code, **{name: f"<{name}>" for name in optional}))
    assert not set("{}[]") & set(text)
    assert "  " not in text
    assert all(f"<{name}>" in text for name in optional)


@pytest.mark.parametrize("code", SENTENCES)
def test_closure_is_never_called_a_pressure(code):
    row = SENTENCES[code]
    text = f"{row.title} {row.message} {row.advice}".lower()
    assert "blowdown" not in text
    assert "reseat" not in text


@pytest.mark.parametrize(
    ("finding", "text"),
    [
        (of("zero-shift", shift_n=2.4), "The slack reading before and after the pull differs by 2.4 N."),
        (of("zero-shift", shift_n=None), "The slack reading before and after the pull differs."),
        (
            of("force-saturated", channel="cell 1", limit_n=25000.0),
            "The force reading of 'cell 1' ran into a stop at 25 kN: the true pull was larger.",
        ),
        (
            of("zero-shift", shift_n=2.4, drift_relative=0.01),
            "The slack reading before and after the pull differs by 2.4 N (drift 1.0 %).",
        ),
        (
            of("hum-removed", channel="{frequency_hz} [x]", frequency_hz=50.0),
            "A steady hum was removed from '{frequency_hz} [x]' at 50 Hz.",
        ),
    ],
)
def test_messages(finding, text):
    assert words.message(finding) == text


def test_pressures_are_shown_in_the_asked_unit():
    finding = of("lower-bound-high", lower_bound_pa=11.63e5, upper_pa=10.3e5)
    assert "11.63 bar" in words.message(finding)
    assert "1163 kPa" in words.message(finding, pressure_unit="kPa")


@pytest.mark.parametrize(
    "call", [lambda c: words.message(of(c)), lambda c: words.advice(of(c)), words.title, words.reason_for_refusal]
)
def test_an_unknown_code_is_refused(call):
    with pytest.raises(FirstliftError, match="WRD-001"):
        call("no-such-code")


@pytest.mark.parametrize(
    "call", [lambda: words.message(of("trend"), language="xx"), lambda: words.outcome(Outcome.MEASURED, language="xx")]
)
def test_an_unknown_language_is_refused(call):
    with pytest.raises(FirstliftError, match="WRD-002"):
        call()


def test_every_outcome_has_a_phrase():
    for kind, say in (
        (Outcome, words.outcome),
        (PullOutcome, words.pull_outcome),
        (VerdictOutcome, words.verdict),
        (DispositionOutcome, words.disposition),
        (Definition, words.definition),
        (Purpose, words.purpose),
        (Medium, words.medium),
        (ValveType, words.valve_type),
        (Measures, words.measures),
    ):
        phrases = [say(value) for value in kind]
        assert all(phrases)
        assert len(set(phrases)) == len(phrases)
    with pytest.raises(FirstliftError, match="WRD-003"):
        words.verdict("perhaps")


def test_decision_rule_says_its_probability():
    assert "at least 95 %, outside if at most 5 %" in words.decision(Decision.GUARDED, 0.95)
    assert "simple" in words.decision(Decision.SIMPLE, 0.95)


def test_every_source_status_is_explained():
    for status in ("looked-up", "computed", "memory", "common-practice"):
        assert words.source(status) != status
    assert words.source("heard") == "heard"


def test_reasons_for_refusal_belong_to_known_codes():
    assert set(REFUSAL) <= set(SENTENCES)
    assert words.reason_for_refusal("not-lifted") == (
        "No set pressure is given: the valve did not lift, so there is no opening to measure."
    )
