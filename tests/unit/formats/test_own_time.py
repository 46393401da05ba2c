"""time = "waveform" in every format that carries its own: steps, stamps, a fast waveform beside slow channels."""

import tracemalloc

import h5py
import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.recording import reduce_waveform
from firstlift.formats import stretches
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording
from firstlift.formats.source import open_source

N = 500
SLOW = np.linspace(0.0, 5.0, N)
TIME = 0.2 + np.arange(N) / 100.0
SOUND = np.random.default_rng(9).normal(size=40_000)


def sheet(names=("cell", "line", "sound"), form="waveform"):
    kinds = (("pull_force", "kN"), ("line_pressure", "bar"), ("acoustic", "mV"))
    text = (
        'format = "firstlift-jobsheet-1"\n[visit]\ndate = 2026-05-12\npurpose = "as-found"\n'
        '[valve]\ntag = "PSV-1"\nserial = "S1"\nset_pressure = "10 bar"\nmedium = "gas"\n'
        '[seat]\nmean_diameter = "40 mm"\nstandard_uncertainty = "0.1 mm"\n[rules]\ncode = "iso-4126-1"\n'
        '[recording]\nfile = "x"\ntime = "waveform"\n'
    ) + "".join(
        f'[[channel]]\ncolumn = "{name}"\nmeasures = "{measures}"\nunit = "{unit}"\n'
        for name, (measures, unit) in zip(names, kinds, strict=True)
    )
    return parse_jobsheet(f'{text}form = "{form}"\n'.encode(), where="job.toml")


def write_hdf5(path, _made):
    with h5py.File(path, "w") as file:
        for name, unit in (("cell", "kN"), ("line", "bar")):
            file.create_dataset(f"slow/{name}", data=SLOW).attrs["unit"] = unit
        file["slow/time"] = TIME
        file.create_dataset("fast/sound", data=SOUND).attrs["sample_rate"] = "20 kHz"


def write_mdf(path, made):
    slow = (TIME, {"cell": (SLOW, "kN"), "line": (SLOW, "bar")})
    path.write_bytes(made.mdf([slow, (np.arange(SOUND.size) / 2e4, {"sound": (SOUND, "mV")})], how="list"))


def write_matlab(path, made):
    fast = {"fast.t": np.arange(SOUND.size)[:, None] / 2e4, "fast.sound": SOUND[:, None]}
    slow = {"slow.t": TIME[:, None], "slow.cell": SLOW[:, None], "slow.line": SLOW[:, None]}
    path.write_bytes(made.matlab_73(slow | fast))


def check(recording, sound=SOUND, rate_hz=2e4):
    cell, line, heard = recording.channels
    for channel in (cell, line):
        np.testing.assert_allclose(channel.time_s, TIME, atol=1e-9)
        np.testing.assert_array_equal(channel.values, SLOW)
    expected = reduce_waveform(lambda a, b: sound[a:b], sound.size, dt_s=1 / rate_hz, t0_s=0.0, block_s=5e-4)
    np.testing.assert_allclose(heard.time_s, expected[0], atol=1e-9)
    np.testing.assert_allclose(heard.values, expected[1])
    assert heard.samples == sound.size
    assert recording.findings == ()


@pytest.mark.parametrize("write", [write_hdf5, write_mdf, write_matlab])
def test_own_steps_and_own_stamps(tmp_path, made, write, monkeypatch):
    monkeypatch.setattr(stretches, "_AT_ONCE", 7001)  # the stamps' pieces end in the midst of blocks
    path = tmp_path / "run.bin"
    write(path, made)
    check(read_recording(path, sheet()))


def test_wav_rate(tmp_path, made):
    path = tmp_path / "run.wav"
    path.write_bytes(made.wav(np.column_stack([SOUND[:4000] / 8] * 3), 8000, bits=32, floats=True))
    recording = read_recording(path, sheet(("channel 1", "channel 2", "channel 3")))
    np.testing.assert_allclose(recording.channels[0].time_s, np.arange(4000) / 8000)
    assert recording.channels[2].block_s == pytest.approx(5e-4)


def test_gap_in_a_waveforms_own_stamps(tmp_path, made):
    time = np.arange(SOUND.size) / 2e4
    time[20_000:] += 0.5
    path = tmp_path / "run.mf4"
    path.write_bytes(
        made.mdf([(TIME, {"cell": (SLOW, "kN"), "line": (SLOW, "bar")}), (time, {"sound": (SOUND, "mV")})])
    )
    recording = read_recording(path, sheet())
    (gap,) = recording.findings
    assert gap.code == "gap"
    assert gap.parameters["longest_s"] == pytest.approx(0.5 + 5e-5)
    assert gap.parameters["from_s"] == pytest.approx(time[19_999])
    heard = recording.channels[2].time_s
    assert not ((heard > time[19_999]) & (heard < time[20_000])).any()
    assert heard.size == 4000


def test_stamps_of_a_waveform_that_go_back(tmp_path, made):
    time = np.arange(SOUND.size) / 2e4
    time[30_000] = 0.1
    path = tmp_path / "run.mf4"
    slow = (TIME, {"cell": (SLOW, "kN"), "line": (SLOW, "bar")})
    path.write_bytes(made.mdf([slow, (time, {"sound": (SOUND, "mV")})]))
    with pytest.raises(FirstliftError, match="sample 30001") as caught:
        read_recording(path, sheet())
    assert caught.value.problems[0].code == "REC-013"


def test_no_time_base_in_the_file(tmp_path):
    path = tmp_path / "run.h5"
    with h5py.File(path, "w") as file:
        for name in ("cell", "line", "sound"):
            file[name] = SLOW
    with pytest.raises(FirstliftError, match="no time base of its own"):
        read_recording(path, sheet())


def test_a_start_too_late_for_its_step(tmp_path):
    path = tmp_path / "run.h5"
    with h5py.File(path, "w") as file:
        for name in ("cell", "line", "sound"):
            file.create_dataset(name, data=SLOW).attrs.update({"dt": 1e-9, "t0": 1e11})
    with pytest.raises(FirstliftError, match="REC-014"):
        read_recording(path, sheet(form="level"))


@pytest.mark.parametrize("form", ["h5", "mf4", "wav"])
def test_a_long_waveform_is_not_held_whole(tmp_path, made, form):
    """Sixteen million samples would take 128 MB as floats; a tenth of the pieces read is enough to tell."""
    count = 16_000_000
    wave = (np.arange(count) % 251).astype("i2")
    path = tmp_path / f"run.{form}"
    if form == "wav":
        path.write_bytes(made.wav(wave[:, None] / 32768, 1_000_000, bits=16))
    elif form == "h5":
        with h5py.File(path, "w") as file:
            file.create_dataset("channel 1", data=wave, chunks=(100_000,)).attrs["dt"] = 1e-6
    else:
        file = made.Mdf()
        link = file.channel("channel 1", 0, offset=0, bits=16, coding=2)
        group = file.group(0, link, count, 2)
        path.write_bytes(file.finish(file.data_group(0, group, file.samples(wave.tobytes()))))
    del wave
    with open_source(path) as source:
        channel = source.channels[0]
        tracemalloc.start()
        try:
            _, mean, _ = reduce_waveform(channel.read, channel.length, dt_s=1e-6, t0_s=0.0, block_s=5e-4)
            _, peak = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
    assert mean.size == count // 500
    assert peak < 110e6
