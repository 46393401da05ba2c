"""LabVIEW measurement files: separators, X columns, segments, short channels, torn ends."""

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.formats.source import open_source

N = 200
WAVE = np.round(np.random.default_rng(8).normal(size=N), 6)
HIGH = np.round(WAVE + 8, 6)
CHANNELS = {"cell": (WAVE, "kN"), "line": (HIGH, "bar"), "Untitled": (WAVE[:5], "")}


def opened(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "run.lvm"
    path.write_bytes(text.encode(encoding))
    return open_source(path)


@pytest.mark.parametrize("x_columns", ["No", "One", "Multi"])
@pytest.mark.parametrize(("separator", "decimal"), [("\t", "."), ("\t", ","), (",", "."), (";", ",")])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_every_layout(tmp_path, made, separator, decimal, x_columns, end):
    style = {"separator": separator, "decimal": decimal, "x_columns": x_columns}
    steps = {"cell": 1e-3, "line": 1e-3, "Untitled": 1.0}
    text = made.lvm_head(**style) + made.lvm_segment(CHANNELS, dt_s=steps, x0_s=0.5, **style)
    with opened(tmp_path, text.replace("\n", end)) as source:
        assert not source.torn
        named = {c.name: c for c in source.channels}
        for name, (values, unit) in CHANNELS.items():
            channel = named[name]
            assert (channel.length, channel.dt_s, channel.t0_s) == (values.size, steps[name], 0.5)
            assert channel.unit == (unit or None)
            np.testing.assert_array_equal(channel.read(0, N), values)
        x = [name for name in named if name.startswith("X_Value")]
        assert len(x) == {"No": 0, "One": 1, "Multi": 3}[x_columns]


def test_comments_and_units_of_old_windows(tmp_path, made):
    text = made.lvm_head() + made.lvm_segment({"body": (WAVE, "°C")}, dt_s=0.1)
    lines = text.split("\n")
    lines[-5] += '\tvalve "A", opened'
    with opened(tmp_path, "\n".join(lines), "cp1252") as source:
        assert source.channels[0].unit == "°C"
        np.testing.assert_array_equal(source.channels[0].read(0, N), WAVE)


def test_segments_that_follow_each_other_evenly(tmp_path, made):
    parts = [made.lvm_segment({"cell": (WAVE[k : k + 50], "kN")}, dt_s=0.01, x0_s=k / 100) for k in (0, 50, 100)]
    with opened(tmp_path, made.lvm_head(headings="Yes") + "".join(parts)) as source:
        cell = source.channels[0]
        assert (cell.length, cell.dt_s, cell.t0_s) == (150, 0.01, 0.0)
        np.testing.assert_array_equal(cell.read(0, 150), WAVE[:150])


def test_segments_that_begin_anew_stand_apart_by_the_clock(tmp_path, made):
    parts = [made.lvm_segment({"cell": (WAVE[:50], "kN")}, dt_s=0.01, time=f"09:30:{second:02d}") for second in (0, 10)]
    with opened(tmp_path, made.lvm_head(headings="Yes") + "".join(parts)) as source:
        cell = source.channels[0]
        assert cell.dt_s is None
        stamps = cell.time.read(0, 100)
        np.testing.assert_allclose(stamps, np.concatenate([np.arange(50), 1000 + np.arange(50)]) / 100, atol=1e-9)
    with pytest.raises(FirstliftError, match="REC-013"):
        opened(tmp_path, made.lvm_head(headings="Yes") + parts[0] + parts[0])


def test_rows_appended_one_by_one_go_by_their_x(tmp_path, made):
    text = made.lvm_head() + made.lvm_segment({"cell": (WAVE[:1], "kN"), "line": (WAVE[:1], "bar")}, dt_s=1.0).rstrip(
        "\n"
    )
    rows = "".join(f"\n{k * 0.25:.6f}\t{WAVE[k]:.6f}\t{WAVE[k]:.6f}" for k in range(1, 20)) + "\n"
    with opened(tmp_path, text + rows) as source:
        for channel in source.channels[:2]:
            assert channel.dt_s is None
            np.testing.assert_allclose(channel.time.read(0, 20), np.arange(20) * 0.25)
            np.testing.assert_array_equal(channel.read(0, 20), WAVE[:20])


def test_cut_off_anywhere(tmp_path, made):
    text = made.lvm_head() + made.lvm_segment({"cell": (WAVE, "kN"), "line": (HIGH, "bar")}, dt_s=0.01)
    start = text.index("Comment") + 60
    for cut in range(start, len(text) - 2, 211):
        with opened(tmp_path, text[:cut]) as source:
            assert source.torn, cut
            for channel, values in zip(source.channels, (WAVE, HIGH), strict=False):
                assert 0 < channel.length < N
                np.testing.assert_allclose(channel.read(0, N), values[: channel.length], atol=1e-9)


def test_cut_off_before_the_samples(tmp_path, made):
    text = made.lvm_head() + made.lvm_segment({"cell": (WAVE, "kN")}, dt_s=0.01)
    for place in ("Delta_X", "X_Value"):
        with pytest.raises(FirstliftError, match="REC-005"):
            opened(tmp_path, text[: text.index(place)])


def test_what_is_no_number_is_told_by_its_line(tmp_path, made):
    text = made.lvm_head() + made.lvm_segment({"cell": (WAVE, "kN")}, dt_s=0.01)
    lines = text.split("\n")
    row = next(n for n, line in enumerate(lines) if line.startswith("0.500000"))
    lines[row] = "0.500000\tlost"
    with opened(tmp_path, "\n".join(lines)) as source:
        (bad,) = source.channels[0].bad
        assert (bad.row, bad.line, bad.text) == (50, row + 1, "lost")
        assert np.isnan(source.channels[0].read(50, 51)[0])


def test_one_sign_for_two_things_is_refused(tmp_path, made):
    style = {"separator": ",", "decimal": ","}
    with pytest.raises(FirstliftError, match="decimal"):
        opened(tmp_path, made.lvm_head(**style) + made.lvm_segment(CHANNELS, dt_s=0.01, **style))
