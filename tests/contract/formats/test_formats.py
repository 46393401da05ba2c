"""One suite for every format: arrays to bytes built here, bytes to a recording, the same arrays again."""

import hashlib
from types import SimpleNamespace

import h5py
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import scipy.io
from nptdms import ChannelObject, TdmsWriter

from firstlift.core.errors import FirstliftError
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording
from firstlift.formats.source import open_source, sniff

N = 5000
RATE_HZ = 1000.0
COLUMNS = {"cell": "kN", "line": "bar", "lift": "mm", "sound": "mV"}


def signals():
    rng = np.random.default_rng(4)
    return {name: np.round(rng.normal(5.0, 1.0, N), 6) for name in COLUMNS}


def sheet(base):
    channels = zip(COLUMNS, ("pull_force", "line_pressure", "spindle_lift", "acoustic"), COLUMNS.values(), strict=True)
    text = (
        'format = "firstlift-jobsheet-1"\n[visit]\ndate = 2026-05-12\npurpose = "as-found"\n'
        '[valve]\ntag = "PSV-1"\nserial = "S1"\nset_pressure = "10 bar"\nmedium = "gas"\n'
        '[seat]\nmean_diameter = "40 mm"\nstandard_uncertainty = "0.1 mm"\n[rules]\ncode = "iso-4126-1"\n'
        f'[recording]\nfile = "x"\n{base}\n'
    ) + "".join(
        f'[[channel]]\ncolumn = "{name}"\nmeasures = "{measures}"\nunit = "{unit}"\n'
        for name, measures, unit in channels
    )
    return parse_jobsheet(text.encode(), where="job.toml")


def write_csv(path, data, units, _made):
    head = [f"{name} [{COLUMNS[name]}]" if units else name for name in data]
    rows = np.column_stack([np.arange(N) / RATE_HZ, *data.values()])
    body = "\n".join(",".join(f"{value:.6f}" for value in row) for row in rows)
    path.write_text(",".join(["time [s]", *head]) + "\n" + body + "\n", encoding="utf-8")


def write_tdms(path, data, units, _made):
    with TdmsWriter(path) as writer:
        for part in range(5):  # several segments, as a recorder writes them
            rows = slice(part * N // 5, (part + 1) * N // 5)
            time = ChannelObject("rig", "time", np.arange(N)[rows] / RATE_HZ)
            writer.write_segment(
                [time]
                + [
                    ChannelObject(
                        "rig", name, values[rows],
                        properties={"wf_increment": 1 / RATE_HZ, "wf_start_offset": 0.0}
                        | ({"unit_string": COLUMNS[name]} if units else {}),
                    )
                    for name, values in data.items()
                ]
            )  # fmt: skip


def write_parquet(path, data, units, _made):
    fields = [pa.field("time", pa.float64())]
    fields += [pa.field(name, pa.float64(), metadata={"unit": COLUMNS[name]} if units else None) for name in data]
    arrays = [pa.array(np.arange(N) / RATE_HZ), *(pa.array(values) for values in data.values())]
    pq.write_table(pa.table(arrays, schema=pa.schema(fields)), path, row_group_size=700)


def write_hdf5(path, data, units, _made):
    with h5py.File(path, "w") as file:
        time = file.create_dataset("time", data=np.arange(N) / RATE_HZ)
        time.attrs["unit"] = "s"
        for name, values in data.items():
            stored = file.create_dataset(f"rig/{name}", data=values, chunks=(700,), compression="gzip")
            stored.attrs["dt"] = 1 / RATE_HZ
            if units:
                stored.attrs["unit"] = COLUMNS[name]


def write_matlab(path, data, _units, _made):
    time = {"time": np.arange(N) / RATE_HZ}
    scipy.io.savemat(path, {"run": {**time, **data}, "note": "invented"}, do_compression=True)


def write_matlab_73(path, data, _units, made):
    variables = {"run.time": np.arange(N)[:, None] / RATE_HZ, "note": "invented"}
    variables |= {f"run.{name}": values[:, None] for name, values in data.items()}
    path.write_bytes(made.matlab_73(variables))


def write_mdf(path, data, units, made):
    columns = {name: (values, COLUMNS[name] if units else "") for name, values in data.items()}
    path.write_bytes(made.mdf([(np.arange(N) / RATE_HZ, columns)], samples_last=True))


def write_lvm(path, data, units, made):
    columns = {name: (values, COLUMNS[name] if units else "") for name, values in data.items()}
    path.write_bytes((made.lvm_head() + made.lvm_segment(columns, dt_s=1 / RATE_HZ)).encode())


FORMATS = {
    "csv": SimpleNamespace(write=write_csv, name="CSV", own_clock=False),
    "tdms": SimpleNamespace(write=write_tdms, name="TDMS", own_clock=True),
    "parquet": SimpleNamespace(write=write_parquet, name="Parquet", own_clock=False, torn="refused"),
    "h5": SimpleNamespace(write=write_hdf5, name="HDF5", own_clock=True, torn="refused"),
    "mat": SimpleNamespace(write=write_matlab, name="MATLAB", own_clock=True, torn="lost", units=False, structure=128),
    "73.mat": SimpleNamespace(
        write=write_matlab_73, name="MATLAB", own_clock=True, torn="refused", units=False, structure=512
    ),
    "mf4": SimpleNamespace(write=write_mdf, name="MDF", own_clock=True),
    "lvm": SimpleNamespace(write=write_lvm, name="LVM", own_clock=True, time="X_Value"),
}


@pytest.fixture(params=FORMATS, name="form")
def _form(request, tmp_path, made):
    row = {"torn": "read", "units": True, "time": "time", "structure": 4} | vars(FORMATS[request.param])
    form = SimpleNamespace(**row, path=tmp_path / f"run.{request.param}")
    write = row["write"]
    form.write = lambda path, data, units=True: write(path, data, units, made)
    form.by_column = f'time = "{form.time}"'
    return form


BASES = ["by a column", 'sample_rate = "1 kHz"', 'time = "waveform"']


@pytest.mark.parametrize("base", BASES)
def test_same_arrays_again(form, base):
    data = signals()
    form.write(form.path, data)
    job = sheet(form.by_column if "column" in base else base)
    if "waveform" in base and not form.own_clock:
        with pytest.raises(FirstliftError) as caught:
            read_recording(form.path, job)
        assert caught.value.problems[0].code == "REC-014"
        return
    recording = read_recording(form.path, job)
    assert [channel.spec.column for channel in recording.channels] == list(COLUMNS)
    for channel in recording.channels:
        np.testing.assert_array_equal(channel.values, data[channel.spec.column])
        np.testing.assert_allclose(channel.time_s, np.arange(N) / RATE_HZ, rtol=0, atol=1e-9)
        assert channel.samples == N
        assert not channel.values.flags.writeable
        assert not channel.time_s.flags.writeable
    assert recording.sha256 == hashlib.sha256(form.path.read_bytes()).hexdigest()
    assert recording.findings == ()


def test_sniffed_by_content_with_a_reason(form, tmp_path):
    form.write(form.path, signals())
    guess = sniff(form.path.read_bytes()[:65536], "no_ending")
    assert guess.format == form.name
    assert guess.reason
    bare = tmp_path / "no_ending"
    bare.write_bytes(form.path.read_bytes())
    with open_source(bare) as source:
        assert source.format == form.name


def test_read_gives_stretches(form):
    data = signals()
    form.write(form.path, data)
    with open_source(form.path) as source:
        channel = next(c for c in source.channels if "line" in (c.name.split(" ")[0], *c.aliases))
        assert channel.length == N
        np.testing.assert_array_equal(channel.read(650, 1500), data["line"][650:1500])
        np.testing.assert_array_equal(channel.read(N - 3, N + 50), data["line"][-3:])
        assert channel.read(10, 10).size == 0


def test_missing_values_stay_missing(form):
    data = signals()
    data["cell"][100:200] = np.nan
    data["lift"][:] = np.nan
    form.write(form.path, data)
    cell, line, lift, _ = read_recording(form.path, sheet(form.by_column)).channels
    assert np.flatnonzero(np.isnan(cell.values)).tolist() == list(range(100, 200))
    assert np.isnan(lift.values).all()
    assert np.isfinite(line.values).all()


def test_nothing_but_gaps_is_a_recording(form):
    form.write(form.path, {name: np.full(N, np.nan) for name in COLUMNS})
    recording = read_recording(form.path, sheet(form.by_column))
    assert all(np.isnan(channel.values).all() for channel in recording.channels)
    assert recording.samples == N


def test_unit_in_the_file_must_agree(form):
    COLUMNS_WRONG = {"cell": "N"}
    if not form.units:
        pytest.skip("the format has no place for a unit")
    right = dict(COLUMNS)
    COLUMNS.update(COLUMNS_WRONG)
    try:
        form.write(form.path, signals())
    finally:
        COLUMNS.update(right)
    with pytest.raises(FirstliftError) as caught:
        read_recording(form.path, sheet(form.by_column))
    (problem,) = caught.value.problems
    assert problem.code == "REC-012"
    assert "'N'" in problem.what
    assert "'kN'" in problem.what


def test_missing_column_lists_what_is_there(form):
    data = signals()
    data["lyne"] = data.pop("line")
    COLUMNS["lyne"] = "bar"
    try:
        form.write(form.path, data, units=False)
    finally:
        del COLUMNS["lyne"]
    with pytest.raises(FirstliftError) as caught:
        read_recording(form.path, sheet(form.by_column))
    (problem,) = caught.value.problems
    assert problem.code == "REC-010"
    assert "lift'" in problem.needed
    assert problem.next == "Did you mean 'lyne'"


def test_cut_off_file(form):
    """A torn file is read to the tear and never filled up, or refused where its format allows no more."""
    data = signals()
    form.write(form.path, data)
    whole = form.path.read_bytes()
    form.path.write_bytes(whole[: int(len(whole) * 0.7) + 5])
    if form.torn != "read":
        with pytest.raises(FirstliftError) as caught:
            read_recording(form.path, sheet(form.by_column))
        problem = caught.value.problems[0]
        assert problem.code == {"refused": "REC-004", "lost": "REC-010"}[form.torn]
        assert "cut off" in problem.what
        return
    base = 'time = "waveform"' if form.own_clock else form.by_column
    recording = read_recording(form.path, sheet(base))
    assert [finding.code for finding in recording.findings] == ["torn-file"]
    for channel in recording.channels:
        n = channel.values.size
        assert 0.5 * N < n < 0.9 * N
        np.testing.assert_array_equal(channel.values, data[channel.spec.column][:n])
    last = min(channel.time_s[-1] for channel in recording.channels)
    assert recording.findings[0].parameters["at_s"] == pytest.approx(last)


def test_damaged_in_the_middle_of_its_structure(form):
    form.write(form.path, signals())
    whole = bytearray(form.path.read_bytes())
    whole[form.structure : form.structure + 56] = b"\xff" * 56
    form.path.write_bytes(bytes(whole))
    with pytest.raises(FirstliftError):
        read_recording(form.path, sheet(form.by_column))


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "REC-002"),
        (bytes(range(256)) * 40, "REC-003"),
        (b"PK\x03\x04" + b"x" * 100, "REC-003"),
        (b"just a letter\nto somebody\n", "REC-003"),
        (b"TDSm", "REC-004"),
        (b"TDSm" + b"\x00" * 60, "REC-004"),
        (b"PAR1PAR1", "REC-004"),
        (b"\x89HDF\r\n\x1a\n" + bytes(200), "REC-004"),
        (b"MATLAB 5.0 MAT-file".ljust(124) + b"\x00\x01IM", "REC-005"),
        (b"MATLAB 7.3 MAT-file".ljust(124) + b"\x00\x02IM" + bytes(600), "REC-004"),
        (b"MDF     4.10    ", "REC-004"),
        (b"MDF     3.30    " + bytes(400), "REC-003"),
        (b"MDF     4.10    " + bytes(400), "REC-004"),
        (b"RIFF\x10\0\0\0WAVE", "REC-004"),
        (b"LabVIEW Measurement\t\nSeparator\tTab\n", "REC-005"),
        (b"LabVIEW Measurement\nnothing more\n", "REC-005"),
        (b"PAR1" + b"\x07" * 90 + b"PAR1", "REC-004"),
    ],
)
def test_what_is_no_recording(tmp_path, content, code):
    path = tmp_path / "run.bin"
    path.write_bytes(content)
    with pytest.raises(FirstliftError) as caught:
        read_recording(path, sheet('time = "time"'))
    assert caught.value.problems[0].code == code
    assert caught.value.exit_code == 3


def test_missing_file_and_folder(tmp_path):
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(FirstliftError) as caught:
            read_recording(path, sheet('time = "time"'))
        assert caught.value.problems[0].code == "REC-001"


def test_excel_is_named(tmp_path):
    path = tmp_path / "run.csv"
    path.write_bytes(b"PK\x03\x04" + b"x" * 100)
    with pytest.raises(FirstliftError, match="Excel"):
        open_source(path)
