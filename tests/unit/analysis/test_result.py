"""The result goes to JSON and back without loss, and a broken one is told where."""

import copy
import json
import math

import jsonschema
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.result import from_json, result_schema, to_json


@pytest.fixture(scope="module")
def data(clean):
    return to_json(clean[1])


def test_there_and_back_is_the_same(clean, data):
    assert from_json(json.loads(json.dumps(data, allow_nan=False))) == clean[1]


def test_it_fits_the_schema(data):
    jsonschema.validate(data, result_schema(), jsonschema.Draft202012Validator)


def test_every_part_was_there_to_be_tested(data):
    assert data["pulls"]
    assert data["budget"]
    assert data["as_found"]
    assert data["verdict"]
    assert data["mean"]
    assert next(iter(data)) == "format"


def broken(data, change):
    other = copy.deepcopy(data)
    change(other)
    with pytest.raises(FirstliftError) as caught:
        from_json(other)
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize(
    ("change", "code", "where"),
    [
        (lambda d: d.update(format="firstlift-result-9"), "RES-002", ""),
        (lambda d: d.pop("format"), "RES-002", ""),
        (lambda d: d.pop("tag"), "RES-003", "result"),
        (lambda d: d.update(extra=1), "RES-003", "result"),
        (lambda d: d.update(tag=5), "RES-003", "result.tag"),
        (lambda d: d.update(outcome="splendid"), "RES-003", "result.outcome"),
        (lambda d: d.update(outcome=["measured"]), "RES-003", "result.outcome"),
        (lambda d: d.update(pulls={}), "RES-003", "result.pulls"),
        (lambda d: d["pulls"][1].update(number="2"), "RES-003", "result.pulls[1].number"),
        (lambda d: d["pulls"][0].update(accepted=1), "RES-003", "result.pulls[0].accepted"),
        (lambda d: d["pulls"][0].update(number=True), "RES-003", "result.pulls[0].number"),
        (lambda d: d["method"].update(parameters=[1]), "RES-003", "result.method.parameters"),
        (lambda d: d["mean"].update(set_pressure_pa=None), "RES-003", "result.mean.set_pressure_pa"),
        (lambda d: d.update(verdict="within"), "RES-003", "result.verdict"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_place(data, change, code, where):
    problem = broken(data, change)
    assert (problem.code, problem.where) == (code, where)


def test_whole_numbers_are_read_as_numbers(clean, data):
    other = copy.deepcopy(data)
    other["recording"]["duration_s"] = round(other["recording"]["duration_s"])
    assert isinstance(from_json(other).recording.duration_s, float)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_number_that_is_not_finite_goes_out(value):
    with pytest.raises(FirstliftError, match="RES-001"):
        to_json({"set_pressure_pa": value})
