"""Job sheets: what they become in SI, and how every slip is named with its line."""

import datetime as dt
import math
from decimal import Decimal

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.job import Decision, Form, Measures, Purpose
from firstlift.core.valve import Definition, Medium, ValveType, land_area_m2
from firstlift.formats.jobsheet import parse_jobsheet, read_jobsheet, recording_path

SHEET = """\
format = "firstlift-jobsheet-1"

[visit]
date = 2026-05-12
owner = "Marrow Bay Energy"
purpose = "as-found"

[valve]
tag = "PSV-1"
serial = "S1"
set_pressure = "12.5 bar"
medium = "gas"

[seat]
mean_diameter = "42.4 mm"
standard_uncertainty = "0.1 mm"

[rules]
code = "iso-4126-1"

[recording]
file = "run.csv"
time = "time_s"

[[channel]]
column = "cell"
measures = "pull_force"
unit = "kN"
relative_standard_uncertainty = "0.2 %"
standard_uncertainty = "1 N"

[[channel]]
column = "line"
measures = "line_pressure"
unit = "psi"

[[channel]]
column = "lift"
measures = "spindle_lift"
unit = "mm"
"""


def read(*changes, sheet=SHEET):
    for old, new in changes:
        assert old in sheet
        sheet = sheet.replace(old, new, 1)
    return parse_jobsheet(sheet.encode(), where="job.toml")


def problems(*changes, sheet=SHEET):
    with pytest.raises(FirstliftError) as caught:
        read(*changes, sheet=sheet)
    assert caught.value.exit_code == 3
    return caught.value.problems


def only(code, *changes):
    found = problems(*changes)
    assert [p.code for p in found] == [code], [p.sentence() for p in found]
    return found[0]


def line_of(text, *changes):
    sheet = SHEET
    for old, new in changes:
        sheet = sheet.replace(old, new, 1)
    return next(n for n, line in enumerate(sheet.splitlines(), 1) if line.startswith(text))


def test_plain_sheet_in_si():
    job = read()
    assert job.visit.date == dt.date(2026, 5, 12)
    assert job.visit.purpose is Purpose.AS_FOUND
    assert job.valve.set_pressure.number == Decimal("12.5")
    assert job.valve.set_pressure.si == pytest.approx(12.5e5)
    assert job.valve.medium is Medium.GAS
    assert job.valve.type is ValveType.CONVENTIONAL
    assert job.seat.area_m2 == pytest.approx(math.pi / 4 * 0.0424**2)
    assert job.seat.u_area_m2 == pytest.approx(math.pi / 2 * 0.0424 * 1e-4)
    assert job.seat.half_width_m2 == 0.0
    assert job.seat.stated == "mean diameter 42.4 mm"
    assert job.rules.decision is Decision.GUARDED
    assert (job.rules.decision_probability, job.rules.agreeing_pulls, job.rules.agreement_spread) == (0.95, 3, 0.03)
    cell, line, lift = job.channels
    assert (cell.factor, cell.relative_standard_uncertainty, cell.standard_uncertainty) == (1e3, 0.002, 1.0)
    assert cell.uncertainty_stated
    assert not line.uncertainty_stated
    assert line.factor == pytest.approx(6894.757293168361)
    assert lift.measures is Measures.SPINDLE_LIFT
    assert job.recording.time_column == "time_s"
    assert job.weight_on_spindle_n == 0.0


def test_byte_order_mark_is_accepted():
    assert parse_jobsheet(b"\xef\xbb\xbf" + SHEET.encode(), where="job.toml").valve.tag == "PSV-1"


def test_everything_the_valve_may_state():
    job = read(
        (
            'medium = "gas"',
            'medium = "steam"\ntype = "balanced-bellows"\nsuperimposed_back_pressure = "0.5 bar"\n'
            'back_pressure_at_test = "10 kPa"\nback_pressure_standard_uncertainty = "1 kPa"\ncap = "on"\n'
            'spindle_diameter = "20 mm"\ndisc_guide_diameter = "50 mm"\nbellows_diameter = "2 in"\n'
            'cold_differential_test_pressure = "12.7 bar"\nmaker = "M"\nmodel = "X"\ninlet_size = "DN 50"\n'
            'outlet_size = "DN 80"\nspring_rate = "300 N/mm"\nspring_range_low = "11 bar"\n'
            'spring_range_high = "14 bar"\nscrew_pitch = "2 mm"\nmax_pull = "15 kN"\n'
            'opening_definition = "pop"\nfire_case = true',
        ),
        (
            'purpose = "as-found"',
            'purpose = "as-left"\nsite = "A"\ntechnician = "B"\nambient_temperature = "20 degC"\n'
            'body_temperature = "212 degF"',
        ),
    )
    valve = job.valve
    assert valve.type is ValveType.BALANCED_BELLOWS
    assert (valve.superimposed_back_pressure_pa, valve.back_pressure_at_test_pa) == (5e4, 1e4)
    assert valve.u_back_pressure_pa == 1e3
    assert valve.cap_on
    assert valve.fire_case
    assert valve.bellows_diameter_m == pytest.approx(0.0508)
    assert valve.spring_rate_n_m == pytest.approx(3e5)
    assert valve.spring_range_high_pa == pytest.approx(14e5)
    assert valve.max_pull_n == 15e3
    assert valve.opening_definition is Definition.POP
    assert valve.cold_differential_test_pressure.number == Decimal("12.7")
    assert (valve.inlet_size, valve.outlet_size) == ("DN 50", "DN 80")
    assert job.visit.ambient_temperature_k == pytest.approx(293.15)
    assert job.visit.body_temperature_k == pytest.approx(373.15)


def test_seat_from_contact_edges():
    edges = 'inner_diameter = "40 mm"\nouter_diameter = "42 mm"'
    seat = read(('mean_diameter = "42.4 mm"', edges)).seat
    assert seat.area_m2 == pytest.approx(land_area_m2(0.040, 0.042))
    assert seat.half_width_m2 == pytest.approx(math.pi / 8 * (0.042**2 - 0.040**2))
    assert seat.u_area_m2 == pytest.approx(math.pi / 4 * 0.082 * 1e-4)
    without = read(('mean_diameter = "42.4 mm"\nstandard_uncertainty = "0.1 mm"', edges)).seat
    assert without.u_area_m2 == 0.0


def test_seat_from_area():
    seat = read(('mean_diameter = "42.4 mm"\nstandard_uncertainty = "0.1 mm"',
                 'area = "14.12 cm2"\nstandard_uncertainty = "7 mm2"')).seat  # fmt: skip
    assert seat.area_m2 == pytest.approx(14.12e-4)
    assert seat.u_area_m2 == pytest.approx(7e-6)


def test_channel_options():
    job = read(
        (
            'unit = "kN"',
            'unit = "kN"\npolynomial = [0.1, 2.0]\ncapacity = "20 kN"\nserial = "C1"\ncalibration_due = 2026-12-31\n'
            'calibrated_with = "set 3"\ndelay = "2 ms"',
        ),
        ('unit = "psi"', 'unit = "bar"\nhead_correction = "-9.79 kPa"'),
        ('measures = "spindle_lift"\nunit = "mm"', 'measures = "acoustic"\nunit = "mV"\nform = "waveform"'),
        ('time = "time_s"', 'sample_rate = "2 kHz"\nstarted_at = 2026-05-12T09:30:00+02:00'),
    )
    cell, line, sound = job.channels
    assert cell.polynomial == (0.1, 2.0)
    assert cell.capacity == 20e3
    assert cell.calibration_due == dt.date(2026, 12, 31)
    assert (cell.serial, cell.calibrated_with, cell.delay_s) == ("C1", "set 3", 0.002)
    assert line.head_correction_pa == -9790.0
    assert sound.form is Form.WAVEFORM
    assert job.recording.sample_rate_hz == 2000.0
    assert job.recording.started_at.utcoffset() == dt.timedelta(hours=2)


def test_temperature_uncertainty_is_a_difference():
    extra = '\n[[channel]]\ncolumn = "t"\nmeasures = "temperature"\nunit = "degC"\nstandard_uncertainty = "0.5 degC"\n'
    channel = read(sheet=SHEET + extra).channels[-1]
    assert channel.standard_uncertainty == pytest.approx(0.5)
    assert channel.offset == pytest.approx(273.15)


@pytest.mark.parametrize(
    ("text", "newtons"), [("50 N", 50.0), ("5 kg", 49.03325), ("10 lb", 44.4822161526), ("10 lbf", 44.4822161526)]
)
def test_weight_is_a_force_or_a_mass(text, newtons):
    sheet = SHEET.replace("[rules]", f'[rig]\nweight_on_spindle = "{text}"\n\n[rules]')
    assert read(sheet=sheet).weight_on_spindle_n == pytest.approx(newtons)


@pytest.mark.parametrize("key", ["line_pressure_standard_uncertainty", "standard_uncertainty"])
def test_line_pressure_by_hand(key):
    channel = SHEET[SHEET.index('[[channel]]\ncolumn = "line"') : SHEET.index('[[channel]]\ncolumn = "lift"')]
    hand = f'purpose = "as-found"\nline_pressure = "10 bar"\n{key} = "5 kPa"'
    job = read((channel, ""), ('purpose = "as-found"', hand))
    assert (job.visit.line_pressure_pa, job.visit.u_line_pressure_pa) == (10e5, 5e3)


def test_waveform_time_base():
    spec = read(('time = "time_s"', 'time = "waveform"')).recording
    assert spec.waveform
    assert spec.time_column is None


def test_owner_limits_keep_their_decimals():
    job = read(
        ('code = "iso-4126-1"', 'code = "owner"\nas_found_lower = "-3 %"\nas_found_upper = "+0.1 bar"\n'
         'as_left_lower = "1240 kPa"\nas_left_upper = "+1 %"'),
    )  # fmt: skip
    limits = job.rules.owner_limits
    assert (limits.as_found_lower.relative, limits.as_found_lower.is_deviation) == (Decimal("-0.03"), True)
    assert (limits.as_found_upper.absolute, limits.as_found_upper.is_deviation) == (Decimal("0.1"), True)
    assert (limits.as_left_lower.absolute, limits.as_left_lower.is_deviation) == (Decimal("12.4"), False)
    assert limits.as_left_upper.relative == Decimal("0.01")


def test_owner_limits_for_both_states():
    limits = read(('code = "iso-4126-1"', 'code = "owner"\nlower = "-3 %"\nupper = "12.9 bar"')).rules.owner_limits
    assert limits.as_found_lower == limits.as_left_lower
    assert limits.as_left_upper.absolute == Decimal("12.9")


@pytest.mark.parametrize(
    ("limits", "code"),
    [
        ('lower = "-3 %"', "JOB-006"),  # no upper one
        ('lower = "-3 %"\nupper = "1 %"', "JOB-008"),  # no sign
        ('lower = "+3 %"\nupper = "+1 %"', "JOB-008"),  # crossed
        ('lower = "-13 bar"\nupper = "+1 %"', "JOB-008"),  # below zero
        ('lower = "-3 kN"\nupper = "+1 %"', "UNI-002"),
    ],
)
def test_owner_limits_that_cannot_be_meant(limits, code):
    assert only(code, ('code = "iso-4126-1"', f'code = "owner"\n{limits}'))


def test_limits_without_owner_are_refused():
    change = ('code = "iso-4126-1"', 'code = "iso-4126-1"\nlower = "-3 %"')
    problem = only("JOB-008", change)
    assert f"line {line_of('lower', change)}" in problem.where


def test_typing_error_in_a_key_is_named_with_its_line():
    change = ('medium = "gas"', 'medium = "gas"\nspring_rat = "300 N/mm"')
    problem = only("JOB-005", change)
    assert "spring_rat" in problem.what
    assert problem.where == f"job.toml line {line_of('spring_rat', change)}, [valve] spring_rat"
    assert problem.next == "Did you mean 'spring_rate'"


def test_typing_error_in_the_second_channel_has_its_own_line():
    change = ('unit = "psi"', 'unit = "psi"\ncapacty = "20 bar"')
    problem = only("JOB-005", change)
    assert problem.where == f"job.toml line {line_of('capacty', change)}, [[channel]] number 2 capacty"
    assert "'capacity'" in problem.next


def test_key_of_another_table_and_unknown_table():
    assert "[valve]" in only("JOB-005", ('purpose = "as-found"', 'purpose = "as-found"\ntag = "PSV-1"')).next
    assert "'rig'" in only("JOB-005", ("[rules]", "[rigg]\n\n[rules]")).next


def test_unknown_code_lists_the_known_ones():
    problem = only("JOB-012", ("iso-4126-1", "iso-4126"))
    assert "asme-xiii" in problem.needed
    assert problem.next == "Did you mean 'iso-4126-1'"


def test_unit_of_the_wrong_kind_names_key_and_line():
    problem = only("UNI-002", ("12.5 bar", "12 kN"))
    assert f"line {line_of('set_pressure')}" in problem.where
    assert "pressure" in problem.needed


@pytest.mark.parametrize("text", ["-42.4 mm", "0 mm"])
def test_seat_must_be_above_zero(text):
    problem = only("JOB-008", ("42.4 mm", text))
    assert text in problem.what
    assert f"line {line_of('mean_diameter')}" in problem.where


@pytest.mark.parametrize("text", ["-12.5 bar", "0 bar"])
def test_set_pressure_must_be_above_zero(text):
    assert text in only("JOB-008", ("12.5 bar", text)).what


def test_two_time_bases_are_both_named():
    problem = only("JOB-009", ('time = "time_s"', 'time = "time_s"\nsample_rate = "1 kHz"'))
    assert "'time'" in problem.what
    assert "'sample_rate'" in problem.what


def test_no_time_base():
    assert only("JOB-006", ('time = "time_s"\n', ""))


def test_two_seats_are_both_named():
    problem = only("JOB-009", ('mean_diameter = "42.4 mm"', 'mean_diameter = "42.4 mm"\narea = "1400 mm2"'))
    assert "'mean_diameter', 'area'" in problem.what


def test_outer_must_exceed_inner():
    only("JOB-008", ('mean_diameter = "42.4 mm"', 'inner_diameter = "42 mm"\nouter_diameter = "40 mm"'))


def test_one_edge_alone_is_not_a_seat():
    assert "outer_diameter" in only("JOB-006", ("mean_diameter", "inner_diameter")).what


def test_mean_diameter_needs_its_uncertainty():
    assert "standard_uncertainty" in only("JOB-006", ('standard_uncertainty = "0.1 mm"\n', "")).what


@pytest.mark.parametrize("area", ["J", "orifice J", "J orifice", "letter K"])
def test_orifice_letter_is_refused_with_the_reason(area):
    problem = only("JOB-010", ('mean_diameter = "42.4 mm"', f'area = "{area}"'))
    assert "sizes the flow" in problem.what
    assert only("JOB-010", ('standard_uncertainty = "0.1 mm"', 'standard_uncertainty = "0.1 mm"\norifice = "J"'))


@pytest.mark.parametrize(
    ("measures", "said"),
    [("pull_force", "pull_force"), ("line_pressure", "line pressure"), ("spindle_lift", "lift")],
)
def test_needed_channels(measures, said):
    unit = {"pull_force": "kN", "line_pressure": "psi", "spindle_lift": "mm"}[measures]
    problem = only(
        "JOB-011", (f'measures = "{measures}"\nunit = "{unit}"', 'measures = "temperature"\nunit = "K"'),
        *([('standard_uncertainty = "1 N"', 'standard_uncertainty = "1 K"')] if measures == "pull_force" else []),
    )  # fmt: skip
    assert said in problem.what


def test_line_pressure_by_hand_needs_its_uncertainty_and_no_gauge():
    found = problems(('purpose = "as-found"', 'purpose = "as-found"\nline_pressure = "10 bar"'))
    assert [p.code for p in found] == ["JOB-006", "JOB-009"]


def test_column_named_twice():
    problem = only("JOB-013", ('column = "line"', 'column = "cell"'))
    assert "channel 1 and channel 2" in problem.what
    only("JOB-013", ('column = "line"', 'column = "time_s"'))


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("date = 2026-05-12", 'date = "2026-05-12"', "JOB-007"),
        ("date = 2026-05-12", "date = 2026-05-12T10:00:00", "JOB-007"),
        ("date = 2026-05-12\n", "", "JOB-006"),
        ('tag = "PSV-1"', "tag = 7", "JOB-007"),
        ('tag = "PSV-1"', 'tag = " "', "JOB-008"),
        ('set_pressure = "12.5 bar"', "set_pressure = 12.5", "JOB-007"),
        ("12.5 bar", "12.5", "UNI-006"),
        ("12.5 bar", "12.5 bara", "UNI-003"),
        ("12.5 bar", "12.5 barr", "UNI-001"),
        ("12.5 bar", "bar", "UNI-004"),
        ("12.5 bar", "1e9999999 bar", "UNI-004"),
        ("12.5 bar", "1,250 bar", "UNI-005"),
        ('medium = "gas"', 'medium = "gass"', "JOB-008"),
        ('medium = "gas"', 'medium = "gas"\nfire_case = "yes"', "JOB-007"),
        ('medium = "gas"', 'medium = "gas"\nback_pressure_at_test = "-1 bar"', "JOB-008"),
        ('code = "iso-4126-1"', 'code = "iso-4126-1"\ndecision_probability = 95', "JOB-008"),
        ('code = "iso-4126-1"', 'code = "iso-4126-1"\nagreeing_pulls = true', "JOB-007"),
        ('code = "iso-4126-1"', 'code = "iso-4126-1"\nagreeing_pulls = 0', "JOB-008"),
        ('unit = "kN"', 'unit = "kN"\npolynomial = ["a"]', "JOB-007"),
        ('unit = "kN"', 'unit = "kN"\npolynomial = [nan]', "JOB-007"),
        ('unit = "kN"', 'unit = "kN"\nform = "waveform"', "JOB-008"),
        ('unit = "kN"', 'unit = "kN"\nhead_correction = "1 kPa"', "JOB-008"),
        ('"1 N"', '"-1 N"', "JOB-008"),
        ('"0.2 %"', '"-0.2 %"', "JOB-008"),
        ('time = "time_s"', 'sample_rate = "0 Hz"', "JOB-008"),
        ('time = "time_s"', 'time = "time_s"\nstarted_at = 2026-05-12T10:00:00', "JOB-008"),
        ('format = "firstlift-jobsheet-1"', "", "JOB-004"),
        ("firstlift-jobsheet-1", "firstlift-jobsheet-9", "JOB-004"),
        ("[rules]", "[[rules]]", "JOB-007"),
    ],
)
def test_a_slip_has_its_code(old, new, code):
    assert code in [p.code for p in problems((old, new))]


def test_all_problems_are_told_at_once():
    found = problems(("12.5 bar", "12 kN"), ("42.4 mm", "-1 mm"), ("iso-4126-1", "iso"), ('unit = "mm"', 'unit = "V"'))
    assert sorted(p.code for p in found) == ["JOB-008", "JOB-012", "UNI-002", "UNI-002"]


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "latin-1"])
def test_wrong_encoding_is_one_clear_message(encoding):
    with pytest.raises(FirstliftError) as caught:
        parse_jobsheet(SHEET.replace("PSV-1", "Überlauf").encode(encoding), where="job.toml")
    (problem,) = caught.value.problems
    assert problem.code == "JOB-002"
    assert "UTF-8" in problem.needed


@pytest.mark.parametrize("text", ["", "  \n", "[visit", "a = ", "a = " + "[" * 5000])
def test_what_is_not_a_sheet(text):
    with pytest.raises(FirstliftError) as caught:
        parse_jobsheet(text.encode(), where="job.toml")
    assert caught.value.problems[0].code == "JOB-003"


def test_files_that_cannot_be_read(tmp_path):
    for path in (tmp_path, tmp_path / "none.toml"):
        with pytest.raises(FirstliftError) as caught:
            read_jobsheet(path)
        assert caught.value.problems[0].code == "JOB-001"


def test_reading_from_a_file(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(SHEET, encoding="utf-8")
    job = read_jobsheet(path)
    assert recording_path(path, job) == tmp_path / "run.csv"
