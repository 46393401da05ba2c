"""Computing a certificate's result again: the same, a clear difference, or another method."""

import dataclasses
import datetime as dt
import json

import numpy as np
import pytest

from firstlift.certificate.manifest import RESULT
from firstlift.certificate.model import CertificateDetails
from firstlift.certificate.verify import check_certificate
from firstlift.core.result import MethodRef, Outcome, from_json, to_json
from firstlift.demo.case import make_demo_case
from firstlift.sim.conditions import CONDITIONS
from firstlift.sim.text import jobsheet_text, recording_csv
from firstlift.usecases.analyse import analyse_jobsheet
from firstlift.usecases.certify import make_certificate
from firstlift.usecases.compare import TOLERANCE, differences
from firstlift.usecases.verify import recompute, verify_certificate


@pytest.fixture(scope="module")
def analysed(tmp_path_factory):
    """The demo's first pull at a quarter of its rate: quick to analyse."""
    folder = tmp_path_factory.mktemp("case")
    sheet = make_demo_case(folder)
    recording = folder / "demo-recording.csv"
    heading, *rows = recording.read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if float(row.split(",")[0]) < 16.0][::4]
    recording.write_text("\n".join([heading, *kept, ""]), encoding="utf-8")
    return analyse_jobsheet(sheet)


@pytest.fixture(scope="module")
def checked(analysed):
    return check_certificate(make_certificate(analysed).pdf)


def with_result(checked, change):
    result = change(from_json(json.loads(checked.files[RESULT])))
    return dataclasses.replace(checked, files={**checked.files, RESULT: json.dumps(to_json(result)).encode()})


def scaled(result, factor):
    pull = dataclasses.replace(result.pulls[0], set_pressure_pa=result.pulls[0].set_pressure_pa * factor)
    return dataclasses.replace(result, pulls=(pull, *result.pulls[1:]))


KINDS = [("measured", Outcome.MEASURED), ("not-lifted", Outcome.NOT_LIFTED)]
KINDS += [("already-open", Outcome.UNUSABLE), ("saturated-cell", Outcome.UNUSABLE)]


@pytest.fixture(params=KINDS, ids=[name for name, _ in KINDS])
def each_kind(request, analysed, tmp_path):
    """A number, a lower bound, and two refusals: each test as it was analysed."""
    name, outcome = request.param
    if name == "measured":
        return analysed
    test = CONDITIONS[name](np.random.default_rng(2))
    (tmp_path / test.job.recording.file).write_text(recording_csv(test), encoding="utf-8")
    (tmp_path / "jobsheet.toml").write_text(jobsheet_text(test), encoding="utf-8")
    found = analyse_jobsheet(tmp_path / "jobsheet.toml")
    assert found.analysis.result.outcome is outcome
    return found


def test_from_its_own_attachments_each_kind_of_result_gives_the_same_pages(each_kind, tmp_path):
    details = CertificateDetails("MB-1", "invented", dt.date(2026, 6, 1), "0.1.0")
    checked = check_certificate(make_certificate(each_kind, details).pdf)
    assert recompute(checked).outcome == "same"
    inside = tmp_path / "inside"
    inside.mkdir()
    for name, data in checked.files.items():
        (inside / name).write_bytes(data)
    again = analyse_jobsheet(inside / "jobsheet.toml", inside / "recording.csv")
    assert again.analysis.result == each_kind.analysis.result
    # the same bytes: every printed digit, every line drawn, every file attached
    assert make_certificate(again, details).pdf == make_certificate(each_kind, details).pdf


def test_the_same_again_to_every_printed_digit(checked):
    found = recompute(checked)
    assert (found.outcome, found.differences) == ("same", ())


def test_a_number_that_was_changed_is_named_with_both_values(checked):
    found = recompute(with_result(checked, lambda result: scaled(result, 1 + 1e-6)))
    (difference,) = found.differences
    assert found.outcome == "different"
    assert difference.where == "pulls[0].set_pressure_pa"
    assert float(difference.kept) == pytest.approx(float(difference.again) * (1 + 1e-6))


def test_another_outcome_is_named(checked):
    found = recompute(with_result(checked, lambda result: dataclasses.replace(result, tag="another")))
    assert [difference.where for difference in found.differences] == ["tag"]


def test_another_method_is_not_called_a_difference(checked):
    def older(result):
        return scaled(dataclasses.replace(result, method=MethodRef("joint-bend-0", {})), 1.01)

    found = recompute(with_result(checked, older))
    assert found.outcome == "other method"
    assert "joint-bend-0" in found.reason
    assert "release 0" in found.reason


def test_what_cannot_be_computed_says_why(checked):
    def without(*names):
        return dataclasses.replace(checked, files={k: v for k, v in checked.files.items() if k not in names})

    assert recompute(without("recording.csv")).reason == "the recording is kept apart; name it with --recording"
    assert recompute(without("jobsheet.toml")).outcome is None
    assert recompute(dataclasses.replace(checked, manifest=None)).reason == "no result is attached"
    broken = dataclasses.replace(checked, files={**checked.files, RESULT: b'{"format": "later"}'})
    assert "cannot read" in recompute(broken).reason
    sheet = dataclasses.replace(checked, files={**checked.files, "jobsheet.toml": b"no job sheet"})
    assert recompute(sheet).outcome == "other method"


JUNK = [
    b"",
    b"[]",
    b"{}",
    b"null",
    b"7",
    b"\xff\xfe",
    b"[" * 100_000,
    b'{"format": "firstlift-result-1"}',
    b"\x00" * 99,
]


@pytest.mark.parametrize("junk", JUNK)
@pytest.mark.parametrize("name", ["result.json", "jobsheet.toml", "seat.json", "recording.csv"])
def test_whatever_is_attached_there_is_an_answer(checked, name, junk):
    found = recompute(dataclasses.replace(checked, files={**checked.files, name: junk}))
    assert found.outcome in (None, "other method")
    assert found.reason


@pytest.mark.parametrize(
    ("name", "key", "value"),
    [
        ("result.json", "as_found", {"set_pressure_pa": 1e400}),
        ("result.json", "tag", 7),
        ("seat.json", "half_width_m2", "nan"),
        ("seat.json", "area_m2", -1.0),
    ],
)
def test_a_value_that_is_none_is_not_computed_with(checked, name, key, value):
    plain = json.loads(checked.files[name])
    plain[key] = {**plain[key], **value} if isinstance(value, dict) else value
    found = recompute(dataclasses.replace(checked, files={**checked.files, name: json.dumps(plain).encode()}))
    assert found.outcome in (None, "other method")


@pytest.mark.parametrize(("share", "count"), [(0.0, 0), (0.5 * TOLERANCE, 0), (2.0 * TOLERANCE, 1)])
def test_the_tolerance_is_a_billionth(analysed, share, count):
    result = analysed.analysis.result
    assert len(differences(analysed.job, result, scaled(result, 1 + share))) == count


def test_a_printed_digit_that_flips_within_the_tolerance_is_a_difference(analysed):
    job, result = analysed.job, analysed.analysis.result

    def at(value):
        pull = dataclasses.replace(result.pulls[0], set_pressure_pa=value, expanded_uncertainty_pa=1200.0)
        return dataclasses.replace(result, pulls=(pull, *result.pulls[1:]))

    # 4.0005 bar with U to a thousandth: a hair below prints 4.000, a hair above 4.001
    found = differences(job, at(4.0005e5 * (1 - 4e-10)), at(4.0005e5 * (1 + 4e-10)))
    assert [(d.kept, d.again) for d in found if d.where.startswith("printed")] == [("4.000", "4.001")]


def test_words_may_be_worded_better_later(analysed):
    result = analysed.analysis.result
    reworded = tuple(dataclasses.replace(f, message="other words", advice="other") for f in result.findings)
    assert differences(analysed.job, result, dataclasses.replace(result, findings=reworded)) == ()


def test_an_unsigned_one_is_computed_but_does_not_pass(analysed):
    verified = verify_certificate(make_certificate(analysed).pdf)
    assert (verified.recomputed.outcome, verified.whole, verified.passed) == ("same", False, False)
