"""Whatever stands in a file, only a FirstliftError may come out of reading it."""

import contextlib
import io

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from nptdms import ChannelObject, TdmsWriter

from firstlift.core.errors import FirstliftError
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording

SHEET = b"""format = "firstlift-jobsheet-1"
[visit]
date = 2026-05-12
purpose = "as-found"
body_temperature = "20 degC"
[valve]
tag = "PSV-1"
serial = "S1"
set_pressure = "12.5 bar"
medium = "gas"
spring_rate = "300 N/mm"
[seat]
inner_diameter = "40 mm"
outer_diameter = "42 mm"
[rig]
weight_on_spindle = "5 kg"
[rules]
code = "owner"
lower = "-3 %"
upper = "+0.1 bar"
[recording]
file = "run.csv"
time = "t"
[[channel]]
column = "cell"
measures = "pull_force"
unit = "kN"
standard_uncertainty = "1 N"
polynomial = [0, 1.0]
[[channel]]
column = "line"
measures = "line_pressure"
unit = "bar"
[[channel]]
column = "lift"
measures = "spindle_lift"
unit = "mm"
"""
TABLE = b"# note\nt;cell [kN];line;lift\n" + b"".join(b"0,%03d;-1,5;%d,25;0,001\n" % (k, k) for k in range(60))
QUICK = settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
EDITS = st.lists(
    st.tuples(st.integers(0, 1 << 14), st.integers(0, 12), st.binary(max_size=8) | st.sampled_from(
        [b"\n", b'"', b"=", b"[[", b"nan", b"1e9999999", b"\xff", b"\0", b"-", b",", b";", b"true", b"999999999999"]
    )),
    min_size=1,
    max_size=5,
)  # fmt: skip


def edited(data, edits):
    for at, cut, put in edits:
        at %= len(data) + 1
        data = data[:at] + put + data[at + cut :]
    return data


def tdms_bytes():
    with TdmsWriter(buffer := io.BytesIO()) as writer:
        for part in range(2):
            props = {"wf_increment": 0.001, "wf_start_offset": 0.0}
            values = 0.001 * np.arange(40 * part, 40 * part + 40)
            writer.write_segment(
                [ChannelObject("g", n, values, properties=props) for n in ("t", "cell", "line", "lift")]
            )
    return buffer.getvalue()


def parquet_bytes():
    table = pa.table({n: np.arange(40.0) for n in ("t", "cell", "line", "lift")})
    pq.write_table(table, buffer := io.BytesIO(), row_group_size=16)
    return buffer.getvalue()


def job():
    return parse_jobsheet(SHEET, where="job.toml")


def check_recording(tmp_path, content):
    path = tmp_path / "run.csv"
    path.write_bytes(content)
    with contextlib.suppress(FirstliftError):
        recording = read_recording(path, job())
        for channel in recording.channels:
            assert channel.time_s.shape == channel.values.shape
            assert np.isfinite(channel.time_s).all()
            assert np.all(np.diff(channel.time_s) > 0)
            assert not np.isinf(channel.values).any()


def test_the_unedited_ones_are_read(tmp_path):
    for content in (TABLE, tdms_bytes(), parquet_bytes()):
        path = tmp_path / "run.csv"
        path.write_bytes(content)
        assert len(read_recording(path, job()).channels) == 3


@QUICK
@given(st.binary(max_size=300))
def test_random_bytes_as_a_job_sheet(data):
    with contextlib.suppress(FirstliftError):
        parse_jobsheet(data, where="job.toml")


@QUICK
@given(EDITS)
def test_edited_job_sheets(edits):
    with contextlib.suppress(FirstliftError):
        parse_jobsheet(edited(SHEET, edits), where="job.toml")


@QUICK
@given(data=st.binary(max_size=300))
def test_random_bytes_as_a_recording(tmp_path, data):
    check_recording(tmp_path, data)


@QUICK
@given(edits=EDITS)
def test_edited_tables(tmp_path, edits):
    check_recording(tmp_path, edited(TABLE, edits))


@QUICK
@given(edits=EDITS)
def test_edited_tdms(tmp_path, edits):
    check_recording(tmp_path, edited(tdms_bytes(), edits))


@QUICK
@given(edits=EDITS)
def test_edited_parquet(tmp_path, edits):
    check_recording(tmp_path, edited(parquet_bytes(), edits))
