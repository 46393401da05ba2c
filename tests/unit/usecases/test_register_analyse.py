"""A recording against the register: the same numbers as by a whole job sheet; kept, computed again, recalled."""

import dataclasses
import datetime as dt
import tomllib
import uuid

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.job import Measures, Rules
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve
from firstlift.core.register.places import Owner, Position, RuleChoice, Site
from firstlift.core.register.work import HowTested, IdentityCheck, ValveTest
from firstlift.core.result import to_json
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.demo.case import make_demo_case
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.audit import audit
from firstlift.store.open import create_store
from firstlift.usecases.analyse import analyse_jobsheet
from firstlift.usecases.register.analyse import analyse_in_register, keep_test, recompute
from firstlift.usecases.register.recall import recall

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
WHO = "program:test"
LONG_AGO = dt.date(2026, 1, 1)


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    """Give a whole job sheet of an invented test, its tables, and its result."""
    sheet = make_demo_case(tmp_path_factory.mktemp("case"))
    document = tomllib.loads(sheet.read_text(encoding="utf-8"))
    return sheet, document, analyse_jobsheet(sheet)


@pytest.fixture
def store(case, tmp_path):
    """Give a register that knows what the whole job sheet states."""
    _, document, analysed = case
    job = analysed.job
    made = create_store(tmp_path / "register", store_id=uuid.uuid4(), at=AT)
    owner = Owner(uuid.uuid4(), document["visit"]["owner"])
    site = Site(uuid.uuid4(), owner.id, document["visit"]["site"], "Europe/London")
    position = Position(uuid.uuid4(), site.id, job.valve.tag, Medium.STEAM)
    valve = RegisteredValve(uuid.uuid4(), owner.id, job.valve.serial, job.valve.set_pressure)
    seat = SeatRecord(
        uuid.uuid4(), valve.id, Source.MAKER, LONG_AGO, area_m2=job.seat.area_m2, u_area_m2=job.seat.u_area_m2
    )
    with made.work(at=AT, who=WHO) as work:
        work.add_all([owner, site, position, valve, Installation(uuid.uuid4(), valve.id, position.id, LONG_AGO), seat])
        work.add(RuleChoice(uuid.uuid4(), owner.id, job.rules, LONG_AGO))
        for spec in job.channels:
            cell = Instrument(uuid.uuid4(), f"N-{spec.column}", spec.measures, spec.unit)
            due = dt.date(2026, 2, 1) if spec.measures is Measures.LINE_PRESSURE else dt.date(2027, 1, 1)
            work.add(cell)
            work.add(calibration_of(spec, cell, due=due))
    yield made
    made.close()


def calibration_of(spec, instrument, *, due, scale=1.0, supersedes=None):
    polynomial = (0.0, scale) if scale != 1.0 else ()
    return Calibration(
        uuid.uuid4(), instrument.id, f"K-{spec.column}-{scale}", LONG_AGO, due, spec.unit, polynomial,
        relative_standard_uncertainty=spec.relative_standard_uncertainty,
        standard_uncertainty_si=spec.standard_uncertainty,
        supersedes=supersedes,
    )  # fmt: skip


@pytest.fixture
def short(case, tmp_path):
    """Give a short job sheet: date and purpose, tag, recording, columns and serials."""
    sheet, document, _ = case
    channels = [
        {"column": channel["column"], "serial": f"n-{channel['column']}"}
        | {key: channel[key] for key in ("form", "delay", "head_correction") if key in channel}
        for channel in document["channel"]
    ]
    visit = {key: value for key, value in document["visit"].items() if key not in ("owner", "site", "technician")}
    tables = {
        "format": document["format"],
        "visit": visit,
        "valve": {"tag": document["valve"]["tag"].lower()},
        "recording": document["recording"],
        "channel": channels,
    }
    if "rig" in document:
        tables["rig"] = document["rig"]
    (tmp_path / sheet.name).write_text(write_sheet(tables), encoding="utf-8")
    recording = document["recording"]["file"]
    (tmp_path / recording).write_bytes((sheet.parent / recording).read_bytes())
    return tmp_path / sheet.name


@pytest.fixture
def work_folder(tmp_path):
    folder = tmp_path / "filled"
    folder.mkdir()
    return folder


def rewrite(sheet, change):
    document = tomllib.loads(sheet.read_text(encoding="utf-8"))
    change(document)
    sheet.write_text(write_sheet(document), encoding="utf-8")


def code(caught):
    return [problem.code for problem in caught.value.problems]


def test_a_written_sheet_is_read_as_it_was(case):
    sheet, document, analysed = case
    again = parse_jobsheet(write_sheet(document).encode(), where=sheet.name)
    assert again == analysed.job
    odd = {"format": "x", "visit": {"a": 'q"\\\x7f\n', "b": True, "c": 1e-9, "d": dt.date(2026, 1, 2), "e": [1.5, 2]}}
    assert tomllib.loads(write_sheet(odd)) == odd


def test_the_register_gives_what_the_whole_sheet_gave(case, store, short, work_folder):
    filled = analyse_in_register(store, short, work_folder)
    ours, whole = filled.analysed.analysis.result, case[2].analysis.result
    assert ours.as_found.set_pressure_pa == pytest.approx(whole.as_found.set_pressure_pa, rel=1e-12)
    assert ours.as_found.expanded_uncertainty_pa == pytest.approx(whole.as_found.expanded_uncertainty_pa, rel=1e-9)
    assert ours.verdict.outcome == whole.verdict.outcome
    assert (ours.verdict.code, ours.verdict.lower_pa) == (whole.verdict.code, whole.verdict.lower_pa)
    assert "calibration-overdue" in {finding.code for finding in ours.findings}
    assert "calibration-overdue" not in {finding.code for finding in whole.findings}


def test_a_kept_test_can_be_computed_again(store, short, work_folder):
    filled = analyse_in_register(store, short, work_folder)
    test = keep_test(store, filled, who=WHO)
    with store.read() as reader:
        kept = reader.get(ValveTest, test.id)
        assert kept == test
        assert to_json(recompute(reader, kept)) == to_json(kept.result)
        assert audit(reader).faults == ()
        assert audit(reader).files == 2
    assert (kept.kind, kept.verdict, kept.day) == (
        HowTested.PULL,
        str(kept.result.verdict.outcome),
        dt.date(2026, 5, 12),
    )
    assert all(used.calibration_id for used in kept.instruments)
    # nobody recorded the time: as found stands early in the day, before whatever is turned then
    assert kept.at == dt.datetime(2026, 5, 12, 5, tzinfo=dt.UTC)


def test_the_kept_sheet_stands_alone(store, short, work_folder):
    filled = analyse_in_register(store, short, work_folder)
    alone = analyse_jobsheet(filled.analysed.sheet, short.parent / filled.analysed.job.recording.file)
    ours = filled.analysed.analysis.result.as_found
    assert alone.analysis.result.as_found.set_pressure_pa == pytest.approx(ours.set_pressure_pa, rel=1e-12)


def test_a_recording_is_kept_once_unless_it_corrects(store, short, work_folder):
    filled = analyse_in_register(store, short, work_folder)
    test = keep_test(store, filled, who=WHO)
    with pytest.raises(FirstliftError) as caught:
        keep_test(store, filled, who=WHO)
    assert code(caught) == ["REG-025"]
    corrected = keep_test(store, filled, who=WHO, supersedes=test.id)
    with store.read() as reader:
        assert reader.get(ValveTest, corrected.id).supersedes == test.id


def test_what_contradicts_the_register_stops_the_job(store, short, work_folder):
    def other(document):
        document["valve"] |= {"serial": "OTHER", "set_pressure": "1 bar"}
        document["channel"][0]["calibration_due"] = dt.date(2030, 1, 1)

    rewrite(short, other)
    with pytest.raises(FirstliftError) as caught:
        analyse_in_register(store, short, work_folder)
    assert code(caught) == ["REG-021"] * 3


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda d: d["valve"].update(tag="PSV-none"), "REG-020"),
        (lambda d: d["visit"].update(site="elsewhere"), "REG-020"),
        (lambda d: d["visit"].update(date=dt.date(2020, 1, 1)), "REG-020"),
        (lambda d: d["valve"].pop("tag"), "JOB-006"),
        (lambda d: d["visit"].update(date="2026"), "JOB-006"),
        (lambda d: d["channel"][0].update(serial="unknown"), "JOB-007"),
    ],
)
def test_a_sheet_that_cannot_be_filled_says_why(store, short, work_folder, change, expected):
    rewrite(short, change)
    with pytest.raises(FirstliftError) as caught:
        analyse_in_register(store, short, work_folder)
    assert code(caught)[0] in {expected, "JOB-006"} if expected == "JOB-007" else code(caught)[0] == expected


def test_without_a_seat_in_force_there_is_no_test(store, short, work_folder):
    with store.work(at=AT, who=WHO) as work:
        (record,) = work.list(SeatRecord)
        work.change(dataclasses.replace(record, superseded_by_overhaul=dt.date(2026, 3, 1)))
    with pytest.raises(FirstliftError) as caught:
        analyse_in_register(store, short, work_folder)
    assert code(caught) == ["SEA-018"]


def test_a_valve_whose_nameplate_did_not_fit_is_not_tested(store, short, work_folder):
    with store.work(at=AT, who=WHO) as work:
        (valve,) = work.list(RegisteredValve)
        wrong = IdentityCheck(
            uuid.uuid4(), valve.id, dt.datetime(2026, 5, 12, 8, tzinfo=dt.UTC), "UTC", "X", mismatches=("serial",)
        )
        work.add(wrong)
    with pytest.raises(FirstliftError) as caught:
        analyse_in_register(store, short, work_folder)
    assert code(caught) == ["REG-024"]
    with store.work(at=AT, who=WHO) as work:
        work.add(dataclasses.replace(wrong, id=uuid.uuid4(), mismatches=(), resolves=wrong.id))
    assert analyse_in_register(store, short, work_folder).found.valve == valve


def with_table(store, column, table):
    """Let a gauge's newest calibration be a table."""
    with store.work(at=AT, who=WHO) as work:
        (gauge,) = work.by_key(Instrument, f"N-{column}")
        known = work.list(Calibration, instrument_id=gauge.id)
        taken = {each.supersedes for each in known}
        (old,) = [each for each in known if each.id not in taken]
        newer = {"table": table, "polynomial": (), "certificate_number": f"T{len(known)}", "supersedes": old.id}
        work.add(dataclasses.replace(old, id=uuid.uuid4(), **newer))


@pytest.mark.parametrize(
    ("table", "expected"),
    [
        (((0.0, 0.0), (10.0, 10.0)), (0.0, 1.0)),
        # worked out beforehand: y = x + 0.002 x^2, and the same with every point a hair off its place
        (tuple((x, x + 0.002 * x * x) for x in (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)), (0.0, 1.0, 0.002)),
        (tuple((x, x + (-1) ** i * 1e-4 * x) for i, x in enumerate((2.0, 4.0, 6.0, 8.0))), (0.0, 1.0)),
    ],
    ids=["line", "curve", "rounded"],
)
def test_a_table_is_read_by_the_simplest_curve_within_its_uncertainty(case, store, short, work_folder, table, expected):
    spec = case[2].job.of(Measures.LINE_PRESSURE)[0]
    with_table(store, spec.column, table)
    filled = analyse_in_register(store, short, work_folder).analysed.job.of(Measures.LINE_PRESSURE)[0]
    assert filled.polynomial == pytest.approx(expected, abs=2e-3)
    assert len(filled.polynomial) == len(expected)


@pytest.mark.parametrize(
    "table",
    [
        ((0.0, 0.0), (5.0, 5.0), (9.0, 12.0)),
        ((0.0, 0.0), (2.0, 2.0), (4.0, 9.0), (6.0, 6.0), (8.0, 8.0)),
        ((1.0, 1.0),),
    ],
    ids=["bent", "one wrong", "one point"],
)
def test_a_table_that_no_smooth_curve_fits_is_refused(case, store, short, work_folder, table):
    with_table(store, case[2].job.of(Measures.LINE_PRESSURE)[0].column, table)
    with pytest.raises(FirstliftError) as caught:
        analyse_in_register(store, short, work_folder)
    assert code(caught) == ["REG-022"]


def test_a_wrong_calibration_is_recalled_with_what_becomes_of_each_test(case, store, short, work_folder):
    spec = case[2].job.of(Measures.LINE_PRESSURE)[0]
    serial = f"N-{spec.column}"
    test = keep_test(store, analyse_in_register(store, short, work_folder), who=WHO)
    (same,) = recall(store, serial.lower())
    assert (same.test_id, same.verdict_now, same.changed) == (test.id, test.verdict, False)
    assert same.set_pressure_now_pa == pytest.approx(test.set_pressure_pa, rel=1e-12)
    with store.work(at=AT, who=WHO) as work:
        (gauge,) = work.by_key(Instrument, serial)
        (old,) = work.list(Calibration, instrument_id=gauge.id)
        # the gauge read a quarter too low: the valve really opened far above its set pressure
        work.add(calibration_of(spec, gauge, due=old.due, scale=1.25, supersedes=old.id))
        bench = ValveTest(
            uuid.uuid4(), test.valve_id, HowTested.BENCH, test.purpose, AT, "UTC", AT.date(),
            instruments=test.instruments,
        )  # fmt: skip
        work.add(bench)
    recalled = recall(store, serial)
    line = recalled[0]
    assert (line.verdict_now, line.changed) == ("outside", True)
    shift = 0.25 * case[2].analysis.result.pulls[0].line_pressure_pa
    assert line.set_pressure_now_pa == pytest.approx(test.set_pressure_pa + shift, rel=1e-3)
    assert (recalled[1].test_id, recalled[1].verdict_now) == (bench.id, None)
    assert "REG-026" in recalled[1].problem
    assert [each.test_id for each in recall(store, serial, last=test.day)] == [test.id]
    with pytest.raises(FirstliftError) as caught:
        recall(store, "nothing")
    assert code(caught) == ["REG-010"]


def test_the_rules_in_force_judge(store, short, work_folder):
    with store.work(at=AT, who=WHO) as work:
        (owner,) = work.list(Owner)
        (site,) = work.list(Site)
        work.add(RuleChoice(uuid.uuid4(), owner.id, Rules("asme-i"), LONG_AGO, site_id=site.id))
    assert analyse_in_register(store, short, work_folder).analysed.job.rules.code == "asme-i"


def test_a_pressure_in_another_unit_is_no_contradiction(store, short, work_folder):
    with store.read() as reader:
        (valve,) = reader.list(RegisteredValve)
    same = parse_quantity(f"{valve.set_pressure.si / 1e3:.1f} kPa", Kind.PRESSURE)
    rewrite(short, lambda document: document["valve"].update(set_pressure=same.text))
    assert analyse_in_register(store, short, work_folder).analysed.job.valve.set_pressure == same
