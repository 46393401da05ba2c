"""From file and job sheet to a recording: names, time bases, slips of the clock, waveforms."""

import numpy as np
import pytest
import scipy.io
from nptdms import ChannelObject, TdmsWriter
from nptdms.log import log_manager

from firstlift.core.errors import FirstliftError, Severity
from firstlift.core.job import Measures
from firstlift.core.recording import reduce_waveform
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording

CHANNELS = (("cell", "pull_force", "kN"), ("line", "line_pressure", "bar"), ("sound", "acoustic", "mV"))


def sheet(base='time = "t"', channels=CHANNELS, extra=""):
    text = (
        'format = "firstlift-jobsheet-1"\n[visit]\ndate = 2026-05-12\npurpose = "as-found"\n'
        '[valve]\ntag = "PSV-1"\nserial = "S1"\nset_pressure = "10 bar"\nmedium = "gas"\n'
        '[seat]\nmean_diameter = "40 mm"\nstandard_uncertainty = "0.1 mm"\n[rules]\ncode = "iso-4126-1"\n'
        f'[recording]\nfile = "x"\n{base}\n'
    ) + "".join(
        f'[[channel]]\ncolumn = "{name}"\nmeasures = "{measures}"\nunit = "{unit}"\n'
        for name, measures, unit in channels
    )
    return parse_jobsheet((text + extra).encode(), where="job.toml")


def csv(tmp_path, time, head="t,cell,line,sound", values=None, fmt="{:.6f}"):
    n = len(time)
    values = np.arange(n) if values is None else values
    lines = [head] + [
        ",".join([t if isinstance(t, str) else fmt.format(t), f"{v}", f"{v + 1}", f"{v + 2}"])
        for t, v in zip(time, values, strict=True)
    ]
    path = tmp_path / "run.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def codes(recording):
    return [finding.code for finding in recording.findings]


def problem_of(path, job):
    with pytest.raises(FirstliftError) as caught:
        read_recording(path, job)
    return caught.value.problems[0]


STEADY = np.arange(1000) / 1000.0


@pytest.mark.parametrize(
    ("head", "scale"),
    [("t,cell,line,sound", 1.0), ("t [ms],cell,line,sound", 1e3), ("t (us),cell,line,sound", 1e6)],
)
def test_time_column_by_its_unit(tmp_path, head, scale):
    recording = read_recording(csv(tmp_path, STEADY * scale, head), sheet())
    np.testing.assert_allclose(recording.channels[0].time_s, STEADY, atol=1e-9)
    assert recording.duration_s == pytest.approx(0.999)


def test_time_column_by_its_name(tmp_path):
    path = csv(tmp_path, STEADY * 1e3, "time_ms,cell,line,sound")
    np.testing.assert_allclose(read_recording(path, sheet('time = "time_ms"')).channels[0].time_s, STEADY, atol=1e-9)


def test_time_column_of_another_unit(tmp_path):
    assert problem_of(csv(tmp_path, STEADY, "t [bar],cell,line,sound"), sheet()).code == "REC-013"


def test_dates_become_seconds_from_the_first(tmp_path):
    stamps = [f"2026-05-12 09:30:{t:06.3f}" for t in STEADY]
    recording = read_recording(csv(tmp_path, stamps), sheet())
    np.testing.assert_allclose(recording.channels[1].time_s, STEADY, atol=1e-9)
    np.testing.assert_array_equal(recording.channels[1].values, np.arange(1000) + 1)


def test_names_without_unit_or_case(tmp_path):
    path = csv(tmp_path, STEADY, "T,Cell [kN],LINE (bar), sound ")
    recording = read_recording(path, sheet())
    assert [channel.spec.measures for channel in recording.channels] == [
        Measures.PULL_FORCE, Measures.LINE_PRESSURE, Measures.ACOUSTIC,
    ]  # fmt: skip
    assert recording.channels[2].values[0] == 2.0


def test_exact_name_goes_first_and_two_alike_are_refused(tmp_path):
    path = csv(tmp_path, STEADY, "t,cell,Cell,sound")
    channels = (("cell", "pull_force", "kN"), ("Cell", "line_pressure", "bar"), ("sound", "acoustic", "mV"))
    first, second, _ = read_recording(path, sheet(channels=channels)).channels
    assert (first.values[0], second.values[0]) == (0.0, 1.0)
    channels = (("CELL", "pull_force", "kN"), ("Cell", "line_pressure", "bar"), ("sound", "acoustic", "mV"))
    assert problem_of(path, sheet(channels=channels)).code == "REC-011"
    assert problem_of(csv(tmp_path, STEADY, "t,cell,cell,line"), sheet()).code == "REC-011"


def test_unit_of_another_kind_and_absolute_pressure(tmp_path):
    assert "'bar'" in problem_of(csv(tmp_path, STEADY, "t,cell [bar],line,sound"), sheet()).what
    assert problem_of(csv(tmp_path, STEADY, "t,cell,line (bara),sound"), sheet()).code == "REC-012"
    assert problem_of(csv(tmp_path, STEADY, "t,cell,line [foo],sound"), sheet()).code == "REC-012"


def test_raw_unit_is_free_under_a_polynomial(tmp_path):
    path = csv(tmp_path, STEADY, "t,cell,line,sound [mV]")
    extra = '[[channel]]\ncolumn = "raw [V]"\nmeasures = "pull_force"\nunit = "kN"\npolynomial = [0.0, 2.0]\n'
    path.write_text(path.read_text().replace("t,cell", "t,raw [V]"))
    recording = read_recording(path, sheet(channels=CHANNELS[1:], extra=extra))
    assert recording.channels[-1].values[1] == 1.0


def test_several_missing_columns_are_told_at_once(tmp_path):
    with pytest.raises(FirstliftError) as caught:
        read_recording(csv(tmp_path, STEADY, "a,b,c,d"), sheet())
    assert [p.code for p in caught.value.problems] == ["REC-010"] * 4


def test_repeated_and_backward_stamps_are_dropped(tmp_path):
    time = STEADY.copy()
    time[500] = time[499]
    time[700] = 0.1
    recording = read_recording(csv(tmp_path, time), sheet())
    (finding,) = recording.findings
    assert finding.code == "repaired-samples"
    assert finding.severity is Severity.WARNING
    assert dict(finding.parameters) == {"channel": "t", "count": 2, "first_line": 502, "at_s": pytest.approx(0.499)}
    channel = recording.channels[0]
    assert np.all(np.diff(channel.time_s) > 0)
    assert set(range(1000)) - set(channel.values.astype(int).tolist()) == {500, 700}
    assert channel.samples == 1000


def test_one_stamp_far_ahead_does_not_take_the_rest_with_it(tmp_path):
    time = STEADY.copy()
    time[300] = 5e4
    recording = read_recording(csv(tmp_path, time), sheet())
    assert recording.channels[0].values.size == 999
    assert recording.duration_s == pytest.approx(0.999)


def test_a_clock_that_starts_again_is_refused(tmp_path):
    problem = problem_of(csv(tmp_path, np.concatenate([STEADY[:500], STEADY[:500]])), sheet())
    assert problem.code == "REC-013"
    assert "line 502" in problem.where


def test_a_gap_stays_a_gap(tmp_path):
    time = np.concatenate([STEADY[:400], STEADY[450:]])
    recording = read_recording(csv(tmp_path, time), sheet())
    (finding,) = recording.findings
    assert (finding.code, finding.severity) == ("gap", Severity.INFO)
    assert finding.parameters["from_s"] == pytest.approx(0.399)
    assert finding.parameters["to_s"] == pytest.approx(0.450)
    assert finding.parameters["count"] == 1
    assert recording.channels[0].values.size == 950


def test_damaged_values_are_gaps_and_told(tmp_path):
    path = csv(tmp_path, STEADY)
    lines = path.read_text().split("\n")
    lines[301] = "0.300000,ERR,301,302"
    path.write_text("\n".join(lines))
    recording = read_recording(path, sheet())
    (finding,) = recording.findings
    assert dict(finding.parameters) == {"channel": "cell", "count": 1, "first_line": 302, "at_s": pytest.approx(0.3)}
    assert np.flatnonzero(np.isnan(recording.channels[0].values)).tolist() == [300]


def test_many_damaged_values_are_refused(tmp_path):
    path = csv(tmp_path, STEADY)
    lines = path.read_text().split("\n")
    for k in range(301, 330):
        lines[k] = f"{(k - 1) / 1000:.6f},ERR,301,302"
    path.write_text("\n".join(lines))
    problem = problem_of(path, sheet())
    assert problem.code == "REC-006"
    assert "'cell'" in problem.what
    assert "line 302" in problem.where


def test_damaged_row_without_a_time_column(tmp_path):
    path = csv(tmp_path, STEADY)
    lines = path.read_text().split("\n")
    lines[301] = "0.3"
    path.write_text("\n".join(lines))
    recording = read_recording(path, sheet('sample_rate = "1 kHz"'))
    assert codes(recording) == ["repaired-samples"]
    assert recording.findings[0].parameters["at_s"] == pytest.approx(0.3)
    assert recording.channels[0].time_s.size == 1000
    assert np.isnan(recording.channels[0].values[300])


def test_text_where_numbers_are_needed(tmp_path):
    path = tmp_path / "run.csv"
    path.write_text("t,cell,line,sound\n" + "".join(f"{n},on,{n},{n}\n" for n in range(20)))
    assert problem_of(path, sheet()).code == "REC-007"


def tdms(path, channels):
    with TdmsWriter(path) as writer:
        writer.write_segment([ChannelObject("g", name, values, properties=props) for name, values, props in channels])
    return path


def test_channels_at_their_own_rates_and_starts(tmp_path):
    start = np.datetime64("2026-05-12T09:30:00.000000")
    later = start + np.timedelta64(250, "ms")
    path = tdms(
        tmp_path / "run.tdms",
        [
            ("cell", np.arange(100.0), {"wf_increment": 0.01, "wf_start_offset": 0.0, "wf_start_time": start}),
            ("line", np.arange(50.0), {"wf_increment": 0.02, "wf_start_offset": 0.5, "wf_start_time": start}),
            ("sound", np.arange(1000.0), {"wf_increment": 0.001, "wf_start_offset": 0.0, "wf_start_time": later}),
        ],
    )
    cell, line, sound = read_recording(path, sheet('time = "waveform"')).channels
    np.testing.assert_allclose(cell.time_s, np.arange(100) * 0.01)
    np.testing.assert_allclose(line.time_s, 0.5 + np.arange(50) * 0.02)
    np.testing.assert_allclose(sound.time_s, 0.25 + np.arange(1000) * 0.001)
    assert problem_of(path, sheet('sample_rate = "100 Hz"')).code == "REC-014"


def test_channel_by_group_and_name(tmp_path):
    props = {"wf_increment": 0.01}
    path = tdms(tmp_path / "run.tdms", [(n, np.arange(9.0), props) for n in ("cell", "line", "sound")])
    channels = (("g/cell", "pull_force", "kN"), *CHANNELS[1:])
    assert read_recording(path, sheet('time = "waveform"', channels)).channels[0].values.size == 9


def test_waveform_is_reduced_by_blocks(tmp_path):
    wave = np.random.default_rng(2).normal(size=50_000).astype(np.float32)
    props = {"wf_increment": 0.001}
    path = tdms(
        tmp_path / "run.tdms",
        [("cell", np.arange(9.0), props), ("line", np.arange(9.0), props), ("sound", wave, {"wf_increment": 4e-5})],
    )
    extra = 'form = "waveform"\n'
    sound = read_recording(path, sheet('time = "waveform"', extra=extra)).channels[2]
    expected = reduce_waveform(lambda a, b: wave[a:b], wave.size, dt_s=4e-5, t0_s=0.0, block_s=5e-4)
    np.testing.assert_array_equal(sound.time_s, expected[0])
    np.testing.assert_array_equal(sound.values, expected[1])
    np.testing.assert_array_equal(sound.peak_squared, expected[2])
    assert sound.block_s == pytest.approx(12 * 4e-5)
    assert sound.samples == 50_000


def test_waveform_of_a_table_stops_at_gaps(tmp_path):
    time = np.concatenate([np.arange(0, 500), np.arange(900, 1400)]) / 1e4
    values = np.random.default_rng(3).normal(size=1000)
    sound = read_recording(csv(tmp_path, time, values=values), sheet(extra='form = "waveform"\n')).channels[2]
    assert sound.block_s == pytest.approx(5e-4)
    assert sound.time_s.size == 200
    assert sound.time_s[100] == pytest.approx(0.09 + 2e-4)
    assert np.all((sound.time_s < 0.05) | (sound.time_s > 0.09))
    # the step over the gap makes no sound of its own
    assert sound.values[100] == pytest.approx(np.mean(np.diff(values[500:505], prepend=values[500]) ** 2))


def test_tdms_cut_off_anywhere_says_so(tmp_path):
    """Two segments, cut in every stretch of the second: what is left is right, and the tear is told."""
    time = np.arange(40) / 1000.0
    path = tmp_path / "run.tdms"
    sizes = []
    for _ in range(2):
        with TdmsWriter(path, mode="a" if sizes else "w") as writer:
            start = 0.04 * len(sizes)
            writer.write_segment([ChannelObject("g", n, start + time) for n in ("t", "cell", "line", "sound")])
        sizes.append(path.stat().st_size)
    whole = path.read_bytes()
    assert codes(read_recording(path, sheet())) == []
    for cut in range(sizes[0] + 1, sizes[1]):
        path.write_bytes(whole[:cut])
        recording = read_recording(path, sheet())
        assert codes(recording) == ["torn-file"], cut
        for channel in recording.channels:
            assert 40 <= channel.values.size <= 80
            np.testing.assert_array_equal(channel.values, channel.time_s)


def test_the_librarys_log_level_is_left_as_it_was(tmp_path, capfd):
    path = tdms(
        tmp_path / "run.tdms", [(n, np.arange(99.0), {"wf_increment": 0.01}) for n in ("cell", "line", "sound")]
    )
    path.write_bytes(path.read_bytes()[:-20])
    before = [log_manager.log_level, *(log.level for log in log_manager.loggers.values())]
    assert codes(read_recording(path, sheet('time = "waveform"'))) == ["torn-file"]
    assert [log_manager.log_level, *(log.level for log in log_manager.loggers.values())] == before
    assert capfd.readouterr().err == ""


def test_a_column_behind_the_tear(tmp_path):
    path = tmp_path / "run.mat"
    scipy.io.savemat(path, {"t": STEADY, "cell": STEADY, "line": STEADY, "sound": STEADY}, do_compression=False)
    path.write_bytes(path.read_bytes()[: 2 * path.stat().st_size // 3])
    problem = problem_of(path, sheet())
    assert problem.code == "REC-010"
    assert "'sound'" in problem.what
    assert "cut off" in problem.what
