"""Into the register: what rows become, all or nothing, the good rows by choice, nothing half-written."""

import csv
import datetime as dt
import itertools
import uuid
import zipfile

import pytest
from tests.made_sheets import GOOD, HEADINGS, sheet_xml, with_cell, write_csv, write_library, write_raw, write_rows

from firstlift.cli.main import main
from firstlift.core.errors import FirstliftError
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve
from firstlift.core.register.places import Interval, Owner, Position, ProtectedSystem, Site
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.seat.record import SeatRecord
from firstlift.formats.sheets.mapping import Mapping, SheetMapping, read_mapping
from firstlift.store.open import create_store, open_store
from firstlift.usecases.import_entries import ordered_ids
from firstlift.usecases.import_sheet import import_sheet, preview_sheet, refused

AT = dt.datetime(2026, 6, 1, 9, tzinfo=dt.UTC)
KINDS = (Owner, Site, Position, RegisteredValve, Installation, Interval, ValveTest, SeatRecord, Instrument, Calibration)


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=uuid.UUID(int=5), at=AT)
    yield made
    made.close()


def take(store, path, mapping=None, **options):
    ids = (uuid.UUID(int=number) for number in itertools.count(1000 + len(all_ids(store))))
    return import_sheet(
        store, path, mapping or Mapping(), at=AT, who="program:import", new_id=lambda: next(ids), **options
    )


def all_ids(store):
    with store.read() as reader:
        return [entry.id for kind in (*KINDS, ProtectedSystem) for entry in reader.list(kind)]


def counts(store):
    with store.read() as reader:
        return [reader.count(kind) for kind in KINDS]


def listed(store, kind, **options):
    with store.read() as reader:
        return reader.list(kind, **options)


FULL = [
    *HEADINGS, "Time zone", "Protected system", "Seat bore [mm]", "Seat OD [mm]", "Seat uncertainty [mm]",
    "Seat measured with", "Interval [months]", "Last test", "Result", "As found [bar]", "Spring rate [N/mm]",
]  # fmt: skip
ROW = [*GOOD[0], "Europe/Oslo", "Drum 7", 20, 22.5, 0.02, "CAL-3", 24, "05.03.2024", "bestanden", 10.7, 55]


def test_a_row_becomes_place_valve_seat_and_history(store, tmp_path):
    report = take(store, write_library(tmp_path / "list.xlsx", [FULL, ROW]))
    assert (report.kept, report.rows_taken, report.troubles) == (True, 1, [])
    assert counts(store) == [1, 1, 1, 1, 1, 1, 1, 1, 0, 0]
    (site,), (position,), (valve,) = (listed(store, kind) for kind in (Site, Position, RegisteredValve))
    assert (site.name, site.zone) == ("North", "Europe/Oslo")
    assert (position.tag, position.medium, position.site_id) == ("PSV-1001", "gas", site.id)
    assert (valve.serial, valve.set_pressure.text, valve.spring_rate_n_m) == ("S-1", "10.5 bar", 55e3)
    (interval,), (test,), (seat,) = (listed(store, kind) for kind in (Interval, ValveTest, SeatRecord))
    assert (interval.months, interval.since) == (24, dt.date(2024, 3, 5))
    assert (test.verdict, test.kind, test.day) == ("within", HowTested.BENCH, dt.date(2024, 3, 5))
    assert test.set_pressure_pa == pytest.approx(10.7e5)
    assert test.at == dt.datetime(2024, 3, 5, 11, tzinfo=dt.UTC)
    assert "row 2" in test.note
    assert "not stated" in test.note
    assert (seat.source, seat.measured_with, seat.inner_diameter_m) == ("measured", ("CAL-3",), pytest.approx(0.020))


def test_the_due_date_follows_from_what_came_in(store, tmp_path):
    take(store, write_library(tmp_path / "list.xlsx", [FULL, ROW]))
    with store.read() as reader:
        (due,) = reader.connection.exec_driver_sql("SELECT due FROM standing").scalars()
    assert str(due) == "2026-03-05"


def test_instruments_come_with_their_calibrations(store, tmp_path):
    rows = [
        ["Serial", "Measures", "Unit", "Capacity", "Certificate", "Calibrated on", "Due", "U (k=2)", "Offset", "Slope"],
        ["LC-1", "load cell", "kN", "20 kN", "C-77", "2026-01-10", "2027-01-10", 0.02, 0.001, 1.002],
        ["PG-9", "gauge", "bar", "40", None, None, None, None, None, None],
    ]
    report = take(store, write_library(tmp_path / "tools.xlsx", rows))
    assert report.troubles == []
    cell, gauge = listed(store, Instrument, order=("serial_key",))
    assert (cell.measures, cell.capacity_si, gauge.capacity_si) == ("pull_force", 20e3, 40e5)
    (calibration,) = listed(store, Calibration)
    assert calibration.instrument_id == cell.id
    assert calibration.standard_uncertainty_si == pytest.approx(10.0)
    assert calibration.polynomial == (0.001, 1.002)


def test_one_bad_row_keeps_everything_out(store, tmp_path):
    report = take(store, write_rows(tmp_path / "list.xlsx", with_cell("Set pressure [bar]", -1, row=2)))
    assert not report.kept
    assert counts(store) == [0] * len(KINDS)
    with pytest.raises(FirstliftError, match="nothing was kept") as caught:
        raise refused(report)
    first = caught.value.problems[0].sentence()
    assert "sheet 'Valves', row 4, column F 'Set pressure [bar]': '-1' is not above 0" in first


def test_the_good_rows_come_in_by_choice(store, tmp_path):
    path = write_rows(tmp_path / "list.xlsx", with_cell("Set pressure [bar]", -1))
    report = take(store, path, take_good_rows=True)
    assert (report.kept, report.rows_taken, report.rows_refused) == (True, 2, 1)
    assert {position.tag for position in listed(store, Position)} == {"PSV-1002", "PSV-2001"}


def test_doubles_within_the_file_are_found_by_tag_and_by_serial(store, tmp_path):
    rows = [
        HEADINGS,
        *GOOD,
        [*GOOD[0][:2], "psv-1001", "S-9", *GOOD[0][4:]],
        [*GOOD[1][:2], "PSV-9", "s-2", *GOOD[1][4:]],
    ]
    report = take(store, write_rows(tmp_path / "list.xlsx", rows), take_good_rows=True)
    assert [(trouble.row, trouble.value) for trouble in report.troubles] == [(5, "tag psv-1001"), (6, "serial s-2")]
    assert "row 2 already" in report.troubles[0].reason
    assert report.rows_taken == 3


def test_what_the_register_holds_already_is_not_taken_twice(store, tmp_path):
    path = write_rows(tmp_path / "list.xlsx", [HEADINGS, *GOOD])
    assert take(store, path).rows_taken == 3
    before = counts(store)
    again = take(store, path, take_good_rows=True)
    assert (again.rows_taken, again.rows_refused, again.kept) == (0, 3, False)
    assert {trouble.reason for trouble in again.troubles} == {"is in the register already"}
    assert counts(store) == before


def test_a_known_owner_and_site_are_used_again(store, tmp_path):
    take(store, write_rows(tmp_path / "one.xlsx", [HEADINGS, GOOD[0]]))
    take(store, write_rows(tmp_path / "two.xlsx", [HEADINGS, [GOOD[1][0].upper(), *GOOD[1][1:]]]))
    assert counts(store)[:4] == [1, 1, 2, 2]


def test_thousands_of_rows_come_in_chunk_by_chunk(store, tmp_path):
    rows = [["MB", f"Site {n % 3}", f"PSV-{n}", f"S{n}", "gas", 10 + n % 5] for n in range(1300)]
    seen = []
    report = take(store, write_rows(tmp_path / "list.xlsx", [HEADINGS, *rows]), progress=lambda *now: seen.append(now))
    assert report.rows_taken == 1300
    assert counts(store)[:4] == [1, 3, 1300, 1300]
    assert seen == sorted(seen)
    assert seen[-1][0] > 0.5


def test_a_refusal_of_the_last_row_undoes_the_first_chunk(store, tmp_path):
    rows = [["MB", "North", f"PSV-{n}", f"S{n}", "gas", 10] for n in range(700)]
    rows[-1][-1] = "much"
    report = take(store, write_rows(tmp_path / "list.xlsx", [HEADINGS, *rows]))
    assert (report.kept, report.rows_refused) == (False, 1)
    assert counts(store) == [0] * len(KINDS)


def test_a_file_torn_in_the_middle_leaves_nothing(store, tmp_path):
    rows = [["MB", "North", f"PSV-{n}", f"S{n}", "gas", 10] for n in range(2000)]
    xml = sheet_xml([HEADINGS, *rows])
    path = write_raw(tmp_path / "list.xlsx", {"Valves": xml[: len(xml) - 30_000]})
    with pytest.raises(FirstliftError, match="IMP-003"):
        take(store, path, take_good_rows=True)
    assert counts(store) == [0] * len(KINDS)


def test_an_interruption_leaves_nothing(store, tmp_path):
    rows = [["MB", "North", f"PSV-{n}", f"S{n}", "gas", 10] for n in range(1300)]

    def stop(_share, count):
        if count > 900:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        take(store, write_rows(tmp_path / "list.xlsx", [HEADINGS, *rows]), progress=stop)
    assert counts(store) == [0] * len(KINDS)


@pytest.mark.parametrize(
    ("heading", "value", "reason"),
    [("Last test", "2031-01-01", "future"), ("Time zone", "Mars/Crater", "time zone")],
)
def test_what_cannot_be_is_said(store, tmp_path, heading, value, reason):
    path = write_rows(tmp_path / "list.xlsx", [[*HEADINGS, heading], [*GOOD[0], value]])
    (trouble,) = take(store, path).troubles
    assert reason in trouble.reason


def test_a_preview_counts_and_writes_nothing(store, tmp_path):
    path = write_rows(tmp_path / "list.xlsx", [*with_cell("Set pressure [bar]", "x"), GOOD[1]])
    report = preview_sheet(path, Mapping())
    assert (report.rows_taken, report.rows_refused) == (2, 2)
    assert counts(store) == [0] * len(KINDS)


def test_a_mapping_gives_constants_units_and_words(store, tmp_path):
    path = write_csv(tmp_path / "list.csv", [["Tag", "SN", "Fluid", "Set"], ["P1", "1", "LPG", "10"]])
    told = SheetMapping(
        columns={"set_pressure": "Set"}, units={"set_pressure": "psi"},
        constants={"owner": "MB", "site": "North"}, words={"medium": {"LPG": "gas"}},
    )  # fmt: skip
    assert take(store, path, Mapping((told,))).troubles == []
    (position,) = listed(store, Position)
    assert (position.medium, position.medium_name) == ("gas", "LPG")
    assert listed(store, RegisteredValve)[0].set_pressure.text == "10 psi"


# the command


@pytest.fixture
def place(tmp_path):
    create_store(tmp_path / "register", store_id=uuid.UUID(int=5), at=AT).close()
    return str(tmp_path / "register")


def test_the_command_previews_saves_a_mapping_and_takes(place, tmp_path, capsys):
    path, saved = write_rows(tmp_path / "list.xlsx", [[*HEADINGS[:-1], "Set pressure"], *GOOD]), tmp_path / "m.toml"
    assert main(["import", str(path), "--preview", "--store", place]) == 1
    assert "--unit set_pressure=UNIT" in capsys.readouterr().out
    told = ["--unit", "set_pressure=bar", "--save-mapping", str(saved)]
    assert main(["import", str(path), "--preview", *told, "--store", place]) == 0
    out = capsys.readouterr().out
    assert "Set pressure" in out
    assert "set pressure [bar]" in out
    assert "3 rows can be taken, 0 cannot." in out
    assert read_mapping(saved).of("Valves").units == {"set_pressure": "bar"}
    assert main(["import", str(path), "--mapping", str(saved), "--store", place]) == 0
    assert "3 rows taken: 1 owner, 2 sites, 3 positions, 3 valves" in capsys.readouterr().out
    store = open_store(place)
    assert counts(store)[3] == 3
    store.close()


def test_the_command_reports_rows_and_keeps_nothing(place, tmp_path, capsys):
    path, report = write_rows(tmp_path / "list.xlsx", with_cell("Set pressure [bar]", "=?")), tmp_path / "report.csv"
    assert main(["import", str(path), "--report", str(report), "--store", place]) == 3
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "IMP-015" in caught.err
    assert "IMP-016" in caught.err
    with report.open(encoding="utf-8-sig", newline="") as stream:
        _, row = csv.reader(stream)
    assert row == ["Valves", "2", "F", "Set pressure [bar]", "'=?", "is not a number"]
    store = open_store(place)
    assert counts(store) == [0] * len(KINDS)
    store.close()


def test_the_command_takes_the_good_rows_and_says_so(place, tmp_path, capsys):
    path = write_rows(tmp_path / "list.xlsx", with_cell("Set pressure [bar]", "?"))
    assert main(["import", str(path), "--take-good-rows", "--store", place]) == 1
    assert "1 rows left out:" in capsys.readouterr().out


@pytest.mark.parametrize("pair", ["set_pressure", "=bar", "sett_pressure=bar", "set_pressure="])
def test_a_pair_that_says_nothing_is_wrong_use(place, tmp_path, capsys, pair):
    path = write_rows(tmp_path / "list.xlsx", [HEADINGS, *GOOD])
    assert main(["import", str(path), "--unit", pair, "--store", place]) == 2
    assert "IMP-017" in capsys.readouterr().err


def test_without_a_register_nothing_is_made(tmp_path, capsys):
    path = write_rows(tmp_path / "list.xlsx", [HEADINGS, *GOOD])
    assert main(["import", str(path), "--store", str(tmp_path / "nowhere")]) == 3
    assert "STO-008" in capsys.readouterr().err
    assert not (tmp_path / "nowhere").exists()


def test_identifiers_are_ordered_and_never_twice():
    new_id = ordered_ids(AT)
    made = [new_id() for _ in range(5000)]
    assert made == sorted(made)
    assert len(set(made)) == 5000
    assert {(one.version, one.variant) for one in made} == {(7, uuid.RFC_4122)}
    assert made[0].int >> 80 == int(AT.timestamp() * 1000)
    assert made[0] != ordered_ids(AT)()


def written(path, data):
    path.write_bytes(data)
    return path


def bomb(path):
    with zipfile.ZipFile(write_rows(path, [HEADINGS, *GOOD]), "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet9.xml", bytes(40_000_000))
    return path


HOSTILE = {
    "formula": lambda path: write_rows(path, with_cell("Set pressure [bar]", "<><f>1/0</f>", row=2)),
    "merged": lambda path: write_rows(path, [HEADINGS, *GOOD], merged=["E4:F4"]),
    "wrong date": lambda path: write_rows(path, [[*HEADINGS, "Last test"], *([*row, "31/02/2024"] for row in GOOD)]),
    "1e308": lambda path: write_rows(path, with_cell("Set pressure [bar]", 1e308, row=2)),
    "turned text": lambda path: write_rows(path, with_cell("Tag", "\u202ePSV", row=2)),
    "bomb": bomb,
    "double headings": lambda path: write_rows(path, [[*HEADINGS, "Tag"], *([*row, "x"] for row in GOOD)]),
    "no headings": lambda path: write_rows(path, GOOD),
    "wide": lambda path: write_csv(path, [HEADINGS, *GOOD, [""] * 600 + ["x"]]),
    "control characters": lambda path: write_csv(path, with_cell("Tag", "P\x01", row=2)),
    "nul": lambda path: write_csv(path, with_cell("Tag", "P\x00", row=2)),
    "empty": lambda path: written(path, b""),
    "locked": lambda path: written(path, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)),
    "pdf": lambda path: written(path, b"%PDF-1.7 is no spreadsheet"),
    "not utf-8": lambda path: write_csv(path, [HEADINGS, *GOOD, ["Ü"]], encoding="cp1252"),
    "contradicting unit": lambda path: write_rows(path, with_cell("Set pressure [bar]", "145 psi", row=2)),
    "negative": lambda path: write_rows(path, with_cell("Set pressure [bar]", -1, row=2)),
    "endless text": lambda path: write_rows(path, with_cell("Serial No.", "x" * 10_000, row=2)),
    "entities": lambda path: write_raw(path, {"V": sheet_xml([HEADINGS, *GOOD], head="<!DOCTYPE w []>")}),
    "torn": lambda path: written(path, write_rows(path, [HEADINGS, *GOOD]).read_bytes()[:900]),
    "calls out": lambda path: write_rows(path, with_cell("Tag", '<><f>WEBSERVICE("x")</f>', row=2)),
    "same valve twice": lambda path: write_rows(path, [HEADINGS, *GOOD, GOOD[0]]),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_told_on_stderr_and_leaves_no_trace(place, tmp_path, capsys, name):
    path = HOSTILE[name](tmp_path / "list.xlsx")
    assert main(["import", str(path), "--store", place]) == 3
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "list.xlsx" in caught.err
    assert "USE-001" not in caught.err
    assert all(line.startswith("firstlift: ") for line in caught.err.splitlines())
    store = open_store(place)
    with store.read() as reader:
        assert reader.connection.exec_driver_sql("SELECT entries FROM store").scalar_one() == 0
    assert counts(store) == [0] * len(KINDS)
    store.close()


def test_hostile_files_are_twenty_or_more():
    assert len(HOSTILE) >= 20
