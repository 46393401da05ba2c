"""Whatever stands in a file, only a FirstliftError may come out of reading it."""

import contextlib
import io

import h5py
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import scipy.io
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


def hdf5_bytes():
    with h5py.File(buffer := io.BytesIO(), "w") as file:
        for n in ("t", "cell", "line", "lift"):
            stored = file.create_dataset(f"rig/{n}", data=np.arange(40.0), chunks=(16,), compression="gzip")
            stored.attrs["dt"] = 0.001
    return buffer.getvalue()


def matlab_bytes(**options):
    variables = {n: np.arange(40.0) for n in ("t", "cell", "line", "lift")}
    scipy.io.savemat(buffer := io.BytesIO(), variables, **options)
    return buffer.getvalue()


def mdf_bytes(made):
    columns = {n: (np.arange(40.0), "") for n in ("t", "cell", "line", "lift")}
    return made.mdf([(np.arange(40.0), columns)], how="deflate")


def lvm_bytes(made):
    columns = {n: (np.arange(40.0), "") for n in ("t", "cell", "line", "lift")}
    return (made.lvm_head() + made.lvm_segment(columns, dt_s=0.01)).encode()


def wav_bytes(made):
    return made.wav(np.column_stack([np.arange(40.0) / 64] * 4), 8000, bits=32, floats=True)


def job(**changes):
    sheet = SHEET
    for old, new in changes.items():
        sheet = sheet.replace(f'"{old}"'.encode(), f'"{new}"'.encode())
    return parse_jobsheet(sheet, where="job.toml")


def own_clock_job():
    return job(t="waveform")


def wav_job():
    return job(t="waveform", cell="channel 1", line="channel 2", lift="channel 3")


def check_recording(tmp_path, content, *jobs, name="run.csv"):
    path = tmp_path / name
    path.write_bytes(content)
    for sheet in jobs or (job(),):
        with contextlib.suppress(FirstliftError):
            check_arrays(read_recording(path, sheet))


def check_arrays(recording):
    if recording.channels:
        for channel in recording.channels:
            assert channel.time_s.shape == channel.values.shape
            assert np.isfinite(channel.time_s).all()
            assert np.all(np.diff(channel.time_s) > 0)
            assert not np.isinf(channel.values).any()


def test_the_unedited_ones_are_read(tmp_path, made):
    contents = [TABLE, tdms_bytes(), parquet_bytes(), hdf5_bytes(), mdf_bytes(made), lvm_bytes(made)]
    contents += [matlab_bytes(), matlab_bytes(do_compression=True), matlab_bytes(format="4")]
    for content in contents:
        path = tmp_path / "run.mat"
        path.write_bytes(content)
        assert len(read_recording(path, job()).channels) == 3
    path.write_bytes(wav_bytes(made))
    assert len(read_recording(path, wav_job()).channels) == 3


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


@QUICK
@given(edits=EDITS)
def test_edited_hdf5(tmp_path, edits):
    check_recording(tmp_path, edited(hdf5_bytes(), edits), job(), own_clock_job())


@pytest.mark.parametrize("options", [{}, {"do_compression": True}, {"format": "4"}])
@QUICK
@given(edits=EDITS)
def test_edited_matlab(tmp_path, options, edits):
    check_recording(tmp_path, edited(matlab_bytes(**options), edits), name="run.mat")


@QUICK
@given(edits=EDITS)
def test_edited_mdf(tmp_path, made, edits):
    check_recording(tmp_path, edited(mdf_bytes(made), edits), job(), own_clock_job())


@QUICK
@given(edits=EDITS)
def test_edited_lvm(tmp_path, made, edits):
    check_recording(tmp_path, edited(lvm_bytes(made), edits), job(), own_clock_job())


@QUICK
@given(edits=EDITS)
def test_edited_wav(tmp_path, made, edits):
    check_recording(tmp_path, edited(wav_bytes(made), edits), wav_job())


HEADS = (b"\x89HDF\r\n\x1a\n", b"MATLAB 5.0 MAT-file".ljust(124) + b"\0\1IM", b"MDF     4.10    ", b"RIFF\0\0\0\0WAVE",
         b"LabVIEW Measurement\t\nSeparator\tTab\n")  # fmt: skip


@QUICK
@given(head=st.sampled_from(HEADS), data=st.binary(max_size=400))
def test_random_bytes_behind_a_right_beginning(tmp_path, head, data):
    check_recording(tmp_path, head + data, job(), own_clock_job())
