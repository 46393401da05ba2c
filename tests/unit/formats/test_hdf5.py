"""HDF5 and MATLAB: layouts, attributes, what was never written, writers that crashed."""

import os
import struct
import subprocess
import sys

import h5py
import numpy as np
import pytest
import scipy.io

from firstlift.core.errors import FirstliftError
from firstlift.formats.source import open_source

N = 1000
WAVE = np.round(np.random.default_rng(5).normal(size=N), 6)


@pytest.fixture(name="path")
def _path(tmp_path):
    return tmp_path / "run.h5"


def channels(path):
    with open_source(path) as source:
        return {c.name: (c, c.read(0, c.length) if not c.why_not else None) for c in source.channels}


@pytest.mark.parametrize(
    ("attributes", "dt_s", "t0_s"),
    [
        ({"dt": 1e-3}, 1e-3, 0.0),
        ({"wf_increment": 1e-3, "wf_start_offset": 0.25}, 1e-3, 0.25),
        ({"sample_rate": 2000}, 5e-4, 0.0),
        ({"Sampling_Rate": np.array([2e3])}, 5e-4, 0.0),
        ({"sample_rate": "2 kHz", "t0": 3.0}, 5e-4, 3.0),
        ({"sampling_interval": "10 us"}, 1e-5, 0.0),
        ({"dt": 1e-3, "sample_rate": 1000.0}, 1e-3, 0.0),
        ({"dt": 1e-3, "sample_rate": 500.0}, None, 0.0),
        ({"dt": 0.0}, None, 0.0),
        ({"dt": float("nan")}, None, 0.0),
        ({}, None, 0.0),
    ],
)
def test_time_base_by_attributes(path, attributes, dt_s, t0_s):
    with h5py.File(path, "w") as file:
        file.create_dataset("a/b/force", data=WAVE).attrs.update(attributes)
    ((channel, values),) = channels(path).values()
    assert (channel.name, channel.aliases) == ("a/b/force", ("force",))
    assert channel.dt_s == (None if dt_s is None else pytest.approx(dt_s))
    assert channel.t0_s == t0_s
    np.testing.assert_array_equal(values, WAVE)


def test_a_step_of_the_group_and_starts_on_the_calendar(path):
    with h5py.File(path, "w") as file:
        file.create_dataset("rig/a", data=WAVE).attrs["start_time"] = "2026-05-12T09:30:00+02:00"
        file.create_dataset("rig/b", data=WAVE).attrs["start_time"] = "2026-05-12T07:30:00.250+00:00"
        file["rig"].attrs["dt"] = 0.01
    found = channels(path)
    assert [(c.dt_s, c.t0_s) for c, _ in found.values()] == [(0.01, 0.0), (0.01, 0.25)]


def test_matrix_by_its_names_and_by_its_longer_side(path):
    matrix = WAVE[: 3 * 300].reshape(300, 3)
    with h5py.File(path, "w") as file:
        named = file.create_dataset("named", data=matrix.T)
        named.attrs["columns"] = ["cell", "line", "lift"]
        named.attrs["units"] = ["kN", "bar", "mm"]
        file.create_dataset("plain", data=matrix)
        file.create_dataset("single", data=matrix[:, :1])
    found = channels(path)
    assert list(found) == ["named/cell", "named/line", "named/lift", "plain/1", "plain/2", "plain/3", "single"]
    assert [found[f"named/{name}"][0].unit for name in ("cell", "line", "lift")] == ["kN", "bar", "mm"]
    for n, name in enumerate(("named/cell", "named/line", "named/lift")):
        np.testing.assert_array_equal(found[name][1], matrix[:, n])
        np.testing.assert_array_equal(found[f"plain/{n + 1}"][1], matrix[:, n])
    np.testing.assert_array_equal(found["single"][1], matrix[:, 0])


def test_table_of_fields_with_its_own_stamps(path):
    table = np.zeros(N, dtype=[("time", "f8"), ("cell", "f4"), ("on", "?"), ("note", "S4")])
    table["time"], table["cell"] = np.arange(N) / 50.0, WAVE
    with h5py.File(path, "w") as file:
        file["log/rows"] = table
    found = channels(path)
    cell, values = found["log/rows/cell"]
    np.testing.assert_array_equal(values, WAVE.astype("f4"))
    assert cell.time is found["log/rows/time"][0]
    assert found["log/rows/note"][0].why_not
    assert cell.aliases == ("cell",)


def test_packed_integers_are_unpacked(path):
    with h5py.File(path, "w") as file:
        stored = file.create_dataset("p", data=np.array([0, 10, -99, 20], dtype="i2"))
        stored.attrs.update({"scale_factor": 0.5, "add_offset": 1.0, "_FillValue": np.int16(-99), "units": "bar"})
    ((channel, values),) = channels(path).values()
    np.testing.assert_array_equal(values, [1.0, 6.0, np.nan, 11.0])
    assert channel.unit == "bar"


def test_what_was_set_aside_but_never_written_is_not_there(path):
    with h5py.File(path, "w") as file:
        grown = file.create_dataset("grown", (N,), chunks=(100,), maxshape=(None,), dtype="f8")
        grown[:250] = WAVE[:250]
        grown[400:500] = WAVE[400:500]
        file.create_dataset("never", (N,), dtype="f8")
    with open_source(path) as source:
        assert source.torn
    found = channels(path)
    values = found["grown"][1]
    assert values.size == 500
    np.testing.assert_array_equal(values[:250], WAVE[:250])
    assert np.isnan(values[300:400]).all()
    np.testing.assert_array_equal(values[400:], WAVE[400:500])
    assert found["never"][0].length == 0


def test_texts_links_and_other_files_are_not_followed(path, tmp_path):
    with h5py.File(tmp_path / "other.h5", "w") as file:
        file["secret"] = WAVE
    with h5py.File(path, "w") as file:
        file["text"] = "invented"
        file["words"] = ["a", "b"]
        file["deep"] = np.zeros((2, 3, 4))
        file["away"] = h5py.ExternalLink("other.h5", "/secret")
        layout = h5py.VirtualLayout((N,), "f8")
        layout[:] = h5py.VirtualSource(tmp_path / "other.h5", "secret", (N,))
        file.create_virtual_dataset("virtual", layout)
    found = channels(path)
    assert set(found) == {"words", "deep", "virtual"}
    assert all(channel.why_not for channel, _ in found.values())


WRITER = """
import h5py, numpy as np, os, sys
file = h5py.File(sys.argv[1], "w", libver="latest")
data = file.create_dataset("force", (0,), chunks=(100,), maxshape=(None,), dtype="f8")
data.attrs["dt"] = 0.01
if sys.argv[2] == "swmr":
    file.swmr_mode = True
for part in range(5):
    data.resize(((part + 1) * 100,))
    data[part * 100 :] = np.arange(100.0) + part * 100
    data.flush()
file.flush()
os._exit(1)
"""


@pytest.mark.parametrize("how", ["swmr", "plain"])
def test_a_writer_that_crashed(path, how):
    subprocess.run([sys.executable, "-c", WRITER, os.fspath(path), how], check=False, timeout=60)
    if how == "plain":
        with pytest.raises(FirstliftError, match="never closed") as caught:
            open_source(path)
        assert caught.value.problems[0].code == "REC-004"
        return
    with open_source(path) as source:
        assert source.torn
        np.testing.assert_array_equal(source.channels[0].read(0, 500), np.arange(500.0))


def test_cut_off_says_so(path):
    with h5py.File(path, "w") as file:
        file["force"] = WAVE
    path.write_bytes(path.read_bytes()[:-100])
    with pytest.raises(FirstliftError, match="cut off"):
        open_source(path)


def matlab(path, variables, **options):
    scipy.io.savemat(path, variables, **options)
    return path


@pytest.mark.parametrize("options", [{"do_compression": True}, {"do_compression": False}, {"format": "4"}])
def test_matlab_vectors_and_matrices(tmp_path, options):
    plain = {"t": np.arange(N) / 100.0, "force": WAVE[:, None], "row": WAVE[None, :], "m": WAVE.reshape(500, 2)}
    found = channels(matlab(tmp_path / "run.mat", plain, **options))
    assert list(found) == ["t", "force", "row", "m(:,1)", "m(:,2)"]
    np.testing.assert_array_equal(found["force"][1], WAVE)
    np.testing.assert_array_equal(found["row"][1], WAVE)
    np.testing.assert_array_equal(found["m(:,2)"][1], WAVE.reshape(500, 2)[:, 1])
    assert found["force"][0].time is found["t"][0]
    assert found["m(:,1)"][0].time is None


def test_matlab_structures_texts_and_types(tmp_path, made):
    run = {"time": np.arange(N) / 100.0, "cell": {"force": WAVE, "unit": "kN"}, "counts": np.arange(N, dtype="i2")}
    old = channels(matlab(tmp_path / "old.mat", {"run": run, "c": np.array(["a", 1], object)}))
    flat = {"run.time": run["time"], "run.cell.force": WAVE, "run.cell.unit": "kN", "run.counts": run["counts"]}
    (tmp_path / "new.mat").write_bytes(made.matlab_73(flat))
    new = channels(tmp_path / "new.mat")
    for found in (old, new):
        np.testing.assert_array_equal(found["run.cell.force"][1], WAVE)
        assert found["run.counts"][1].dtype == np.int16
        assert found["run.counts"][0].time is found["run.time"][0]
        assert found["run.cell.force"][0].aliases == ("force",)
        assert found["run.cell.unit"][0].why_not
    assert old["c"][0].why_not


def test_matlab_complex_numbers_are_refused(tmp_path):
    found = channels(matlab(tmp_path / "run.mat", {"z": np.arange(9) * 1j, "a": WAVE}))
    assert "complex" in found["z"][0].why_not
    np.testing.assert_array_equal(found["a"][1], WAVE)


@pytest.mark.parametrize("options", [{"do_compression": True}, {"do_compression": False}, {"format": "4"}])
def test_matlab_file_cut_off_is_read_to_the_tear(tmp_path, options):
    path = matlab(tmp_path / "run.mat", {"a": WAVE, "b": WAVE + 1, "c": WAVE + 2}, **options)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) * 5 // 6])
    with open_source(path) as source:
        assert source.torn
        assert [c.name for c in source.channels] == ["a", "b", "c"]
        np.testing.assert_array_equal(source.channels[1].read(0, N), WAVE + 1)
        last = source.channels[2]
        assert 300 < last.length < 700
        np.testing.assert_array_equal(last.read(0, N), WAVE[: last.length] + 2)


def test_matlab_packed_numbers_read_forth_and_back(tmp_path):
    long = np.random.default_rng(3).normal(size=200_000)
    with open_source(
        matlab(tmp_path / "run.mat", {"x": long, "n": np.arange(3, dtype=">i4")}, do_compression=True)
    ) as s:
        x = s.channels[0]
        for start, stop in ((0, 10), (9, 70_000), (69_999, 140_000), (5, 20), (190_000, 200_000), (150_000, 150_001)):
            np.testing.assert_array_equal(x.read(start, stop), long[start:stop])


def test_matlab_of_the_other_byte_order(tmp_path):
    """A vector of two doubles as a machine of the other order writes it."""
    name = struct.pack(">I", 1 << 16 | 1) + b"x\0\0\0"
    body = (
        struct.pack(">IIII", 6, 8, 6, 0)
        + struct.pack(">IIii", 5, 8, 2, 1)
        + name
        + struct.pack(">IIdd", 9, 16, 1.5, 2.5)
    )
    head = b"MATLAB 5.0 MAT-file, invented".ljust(124) + b"\1\0MI"
    path = tmp_path / "run.mat"
    path.write_bytes(head + struct.pack(">II", 14, len(body)) + body)
    ((channel, values),) = channels(path).values()
    assert channel.name == "x"
    np.testing.assert_array_equal(values, [1.5, 2.5])
