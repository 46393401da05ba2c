"""What a certificate says, looked at as data."""

import dataclasses
import json

import pytest

from firstlift.certificate import CertificateDetails, build_certificate
from firstlift.certificate.model import Findings, Glance, Pairs, Pictures, Table, plain
from firstlift.certificate.pictures import MOST_PULLS, shown_pulls
from firstlift.certificate.states import runs
from firstlift.core.job import Decision, Purpose, Rules
from firstlift.core.result import VerdictOutcome
from firstlift.core.units import Kind, parse_quantity
from firstlift.words.paper import ENGLISH

INVENTED = "Demonstration data: invented plant"


def document_of(made, result, job=None, traces=()):
    return build_certificate(job or made.job(), result, traces, made.details)


def section(document, title):
    found = [s for s in document.sections if s.title == title]
    assert len(found) == 1, [s.title for s in document.sections]
    return found[0]


def pairs(document, title):
    return {key: value for b in section(document, title).blocks if isinstance(b, Pairs) for key, value in b.rows}


def table(document, title):
    return next(b for b in section(document, title).blocks if isinstance(b, Table))


def words_in(value):
    if isinstance(value, dict):
        return [w for key, item in value.items() if key not in ("svg", "kind") for w in words_in(item)]
    if isinstance(value, list):
        return [w for item in value for w in words_in(item)]
    return [value] if isinstance(value, str) else []


def test_measured_as_found(made):
    glance = document_of(made, made.result()).glance
    assert glance == Glance(
        "PSV-2881",
        "Set pressure as found, pull 1",
        "10.020 ± 0.056 bar",
        "U with coverage factor k = 2.02, coverage probability 95 %.",
        "Within the limits",
        "good",
        "Limits 9.7 bar to 10.3 bar; probability of lying within them > 99.9 %.",
        "Fit for service",
        "good",
        "",
    )


def test_not_lifted_gives_reason_and_bound_but_no_set_pressure(made):
    document = document_of(made, made.not_lifted())
    assert document.glance.value == "No set pressure"
    assert "did not lift" in document.glance.value_note
    assert "opens above 11.63 bar" in document.glance.value_note
    assert document.glance.verdict_mark == document.glance.disposition_mark == "bad"
    assert document.glance.disposition_note == "no lift; proved to open too high"
    assert table(document, "Every pull").rows[0][5:8] == ("> 11.63", "–", "–")


def test_unusable_gives_reason_and_says_that_nothing_is_proved(made):
    document = document_of(made, made.unusable())
    assert document.glance.headline == "The recording cannot show a set pressure"
    assert document.glance.value == "No set pressure"
    assert "force cell ran into its stop" in document.glance.value_note
    assert "No lower bound is proved" in document.glance.value_note
    assert document.glance.verdict == "No verdict"
    assert pairs(document, "The rule")["Code"] == "iso-4126-1"
    assert not any("Uncertainty budget" in s.title for s in document.sections)


def test_stayed_open_is_inoperable_though_within(made):
    document = document_of(made, made.stayed_open())
    assert (document.glance.verdict_mark, document.glance.disposition) == ("good", "Inoperable")
    assert document.glance.disposition_note == "valve stayed open"
    assert [row[7] for row in table(document, "Every pull").rows] == ["not observed", "–"]
    found = next(b for b in section(document, "Findings").blocks if isinstance(b, Findings))
    assert found.rows[0].severity == "severe"
    assert "out for repair" in found.rows[0].advice


def test_outside(made):
    document = document_of(made, made.outside())
    assert (document.glance.value, document.glance.verdict) == ("10.820 ± 0.056 bar", "Outside the limits")
    assert "< 0.1 %" in document.glance.verdict_note


def test_undecided_has_a_mark_of_its_own(made):
    result = made.result(verdict=made.verdict(VerdictOutcome.UNDECIDED, probability=0.7))
    assert document_of(made, result).glance.verdict_mark == "open"


def test_as_found_without_value_is_not_replaced_by_later_pulls(made):
    lost = made.not_lifted()
    result = made.result(as_found=lost.as_found, pulls=(lost.pulls[0], *made.result().pulls[1:]), verdict=None)
    glance = document_of(made, result).glance
    assert glance.value == "No set pressure"
    assert "11.63" in glance.value_note
    assert "no lift at the first loading" in glance.headline


def test_as_left_gives_lowest_and_highest_of_the_judged_openings(made):
    job = made.job()
    job = dataclasses.replace(job, visit=dataclasses.replace(job.visit, purpose=Purpose.AS_LEFT))
    document = document_of(made, made.as_left(), job)
    assert document.glance.value == "9.990 to 10.050 bar"
    assert "pulls 1, 2, 3" in document.glance.value_note
    states = table(document, "As found, as left, mean")
    assert [row[0] for row in states.rows] == ["As left"] * 3 + ["Mean (information only)"]
    assert states.rows[3][3].endswith("not judged")


def test_every_pull_is_in_the_table_with_its_flags_explained(made):
    pulls = table(document_of(made, made.result()), "Every pull")
    assert pulls.rows[0] == ("1", "measured", "10.500 ± 0.034", "8.000", "141.4", "10.020", "0.056", "16.30", "")
    assert pulls.rows[1][8] == "a"
    assert pulls.rows[2][8] == "b a ×"
    assert pulls.strong == (0,)
    assert {"a: line pressure unsteady", "b: zero of the force moved"} <= set(pulls.notes)
    assert any("not accepted" in note for note in pulls.notes)


def test_pressures_follow_the_nameplate_unit(made):
    job = made.job()
    job = dataclasses.replace(
        job, valve=dataclasses.replace(job.valve, set_pressure=parse_quantity("145 psi", Kind.PRESSURE))
    )
    document = document_of(made, made.result(), job)
    assert document.glance.value == "145.33 ± 0.81 psi"
    assert table(document, "Every pull").columns[5].unit == "psi"
    assert "140.6866 psi to 149.3889 psi" in document.glance.verdict_note


def test_rule_names_edition_clause_source_and_decision(made):
    rule = pairs(document_of(made, made.result()), "The rule")
    assert rule["Code, edition, clause"] == "iso-4126-1, 2013+A1:2016, set pressure tolerance (Amd 1:2016)"
    assert rule["Source of the limits"] == "looked up in a public copy; confirm against the licensed edition"
    assert rule["Set pressure means"] == "first lift of the disc"
    assert "at least 95 %" in rule["Decision rule"]
    simple = dataclasses.replace(made.verdict(), decision=Decision.SIMPLE)
    assert "simple acceptance" in pairs(document_of(made, made.result(verdict=simple)), "The rule")["Decision rule"]
    unjudged = made.job(rules=Rules("owner", decision=Decision.SIMPLE))
    assert "simple" in pairs(document_of(made, made.unusable(), unjudged), "The rule")["Decision rule"]


def test_instruments_state_serial_calibration_and_uncertainty(made):
    rows = table(document_of(made, made.result()), "Instruments").rows
    assert rows[0] == (
        "cell 1",
        "pull force",
        "N",
        "C-118",
        "2027-01-31",
        "0.2 % of reading and 0.6 N",
        "calibrated with stand A",
    )
    assert rows[1][4] == "2026-04-30 (overdue)"
    assert rows[2][6] == "delay 12 ms; head −0.0979 bar"
    assert rows[3][5] == "not used for the value"


def test_an_unstated_uncertainty_and_a_pressure_by_hand_are_said(made):
    job = made.job()
    cell = dataclasses.replace(
        job.channels[0],
        uncertainty_stated=False,
        relative_standard_uncertainty=0.0,
        standard_uncertainty=0.0,
        polynomial=(0.0, 1.0, 0.1),
    )
    visit = dataclasses.replace(job.visit, line_pressure_pa=8.0e5, u_line_pressure_pa=2000.0)
    rows = table(
        document_of(made, made.result(), dataclasses.replace(job, channels=(cell,), visit=visit)), "Instruments"
    ).rows
    assert rows[0][5:] == ("not stated", "calibration curve, degree 2; calibrated with stand A")
    assert rows[1] == ("by hand", "line pressure", "bar", "–", "–", "0.020 bar", "entered as 8 bar")


def test_budget_is_in_the_nameplate_unit_and_adds_up(made):
    budget = table(document_of(made, made.result()), "Uncertainty budget of the judged value")
    rows = {row[0]: row for row in budget.rows}
    assert rows["line pressure, gauge"][1:7] == ("8 bar", "0.02 bar", "normal", "∞", "1", "0.020")
    assert rows["pull force, calibration"][1:7] == ("141.37 N", "1 N", "normal", "12", "0.0141", "0.014")
    # a sensitivity in Pa per m2 becomes bar per mm2
    assert rows["seat area"][1:7] == ("706.86 mm²", "4.7 mm²", "normal", "8", "−0.00283", "−0.013")
    assert "Combined standard uncertainty 0.028 bar, coverage factor 2.02, so U = 0.056 bar" in budget.notes


def test_seat_with_edges_says_so(made):
    job = made.job()
    seat = dataclasses.replace(job.seat, half_width_m2=2e-5, u_area_m2=0.0)
    rows = pairs(document_of(made, made.result(), dataclasses.replace(job, seat=seat)), "The valve and its seat")
    assert rows["Seat area"] == "707 mm², u = 12 mm² (edges of the seat: all areas between equally likely)"


def test_method_is_enough_to_compute_again(made):
    rows = pairs(document_of(made, made.result()), "Method, recording, attached files")
    assert rows["Method"] == "first-lift-1"
    assert rows["Its parameters"] == "fuse = yes; order = 2; probability = 0.95; window_s = 1.5"
    assert rows["Program"] == "Firstlift 0.1.0"
    assert rows["SHA-256 of the recording"] == made.sha


@pytest.mark.parametrize(
    ("owner", "mark"),
    [
        ("Marrow Bay Energy", INVENTED),
        ("MARROW BAY ENERGY, unit 2", INVENTED),
        ("Another owner", ""),
        ("", ""),
    ],
)
def test_invented_data_are_marked(made, owner, mark):
    job = made.job()
    job = dataclasses.replace(job, visit=dataclasses.replace(job.visit, owner=owner))
    assert document_of(made, made.result(), job).demo == mark


@pytest.mark.parametrize("kind", ["result", "not_lifted", "unusable", "stayed_open", "outside", "as_left"])
def test_every_certificate_says_what_it_does_not_prove_and_ends(made, kind):
    document = document_of(made, getattr(made, kind)())
    text = "\n".join(words_in(plain(document)))
    for phrase in (
        "discharge capacity",
        "full lift",
        "tightness of the seat at 90 %",
        "free inlet and outlet",
        "relate only to the item tested",
        "Tested by",
        "Reviewed by",
        "End of certificate ML-2026-0042",
    ):
        assert phrase in text
    # closure is never given as a pressure; the word stands only where it is said not to be proved
    assert text.lower().count("blowdown") == 1
    assert "reseat" not in text.lower()


def test_judged_unrounded_printed_rounded(made):
    # 10.2996 bar prints as 10.300 bar, the verdict of the result stands as it is
    result = made.result(
        as_found=dataclasses.replace(made.result().as_found, set_pressure_pa=10.29996e5),
        verdict=made.verdict(VerdictOutcome.WITHIN, probability=0.5),
    )
    glance = document_of(made, result).glance
    assert glance.value == "10.300 ± 0.056 bar"
    assert glance.verdict == "Within the limits"


def test_many_pulls_are_all_tabled_and_all_drawn(made):
    result = made.many()
    chosen = [pull.number for pull in shown_pulls(result)]
    assert len(chosen) == MOST_PULLS
    assert {1, 40} <= set(chosen)
    document = document_of(made, result, traces=made.traces())
    assert len(table(document, "Every pull").rows) == 40
    drawn = [b for b in section(document, "Traces").blocks if isinstance(b, Pictures)]
    assert [len(block.pictures) for block in drawn] == [1, MOST_PULLS, 40 - MOST_PULLS]
    assert "Large are 12 pulls" in drawn[1].pictures[0].caption
    assert table(document, "As found, as left, mean").rows[1][1] == "1 to 40"


def test_without_traces_there_are_no_figures_of_them(made):
    assert "Traces" not in [s.title for s in document_of(made, made.result()).sections]
    assert "Traces" in [s.title for s in document_of(made, made.result(), traces=made.traces()).sections]


def test_nothing_found_and_no_pull_are_said(made):
    document = document_of(made, dataclasses.replace(made.unusable(), pulls=(), findings=(), as_found=None))
    text = words_in(plain(document))
    assert "Nothing out of the ordinary was found." in text
    assert "The recording shows no pull." in text


@pytest.mark.parametrize(
    ("chosen", "text"), [((), ""), ((3,), "3"), ((1, 2), "1, 2"), ((1, 2, 3, 7, 9, 10, 11, 12), "1 to 3, 7, 9 to 12")]
)
def test_runs_of_numbers(chosen, text):
    assert runs(chosen, ENGLISH) == text


def test_page_model_is_plain_data(made):
    document = document_of(made, made.result(), traces=made.traces())
    assert json.loads(json.dumps(plain(document)))["kind"] == "document"
    assert document == document_of(made, made.result(), traces=made.traces())
    with pytest.raises(dataclasses.FrozenInstanceError):
        document.number = "other"


def test_issue_details_are_printed(made):
    details = CertificateDetails("N-7", "Another body", made.details.issued_on, "9.9")
    document = build_certificate(made.job(), made.result(), (), details)
    assert (document.number, document.issuer, document.release) == ("N-7", "Another body", "9.9")
    assert document.end == "End of certificate N-7"
    assert pairs(document, "Where, when and by whom")["Issued by"] == "Another body"
