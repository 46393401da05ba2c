"""How fast, and how much memory: against one real FFT of the same channels, timed in the same run."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from firstlift.core.analysis import analyse
from firstlift.core.lift.find import find_first_lift
from firstlift.core.signal.condition import condition
from firstlift.core.signal.pulls import find_pulls
from firstlift.sim.model import SimulatedTest
from firstlift.sim.recipe import draw_instruments, draw_recipe, plan
from firstlift.sim.simulate import simulate
from firstlift.sim.text import jobsheet_text
from firstlift.usecases.analyse import limits_of, worded

_LENGTH_S, _RATE_HZ, _WAVE_HZ = 60.0, 10_000.0, 1_000_000.0


def make_recording(length_s: float, rate_hz: float, seed: int = 3) -> SimulatedTest:
    """Simulate a test of six channels: three cells, line, lift, sound level."""
    rng = np.random.default_rng(seed)
    recipe = draw_recipe(rng)
    stated = recipe.instruments
    instruments = replace(
        draw_instruments(rng, cells=3),
        stated_diameter_m=stated.stated_diameter_m,
        u_diameter_m=stated.u_diameter_m,
        rate_hz=rate_hz,
    )
    recipe = replace(recipe, pulls=3, rise_s=2.5, instruments=instruments)
    program = replace(plan(recipe), duration_s=length_s)
    return simulate(
        recipe.valve, recipe.rig, program, instruments, recipe.faults, rng,
        name="speed", stamped_bar=recipe.stamped_bar,
    )  # fmt: skip


def _median_s(work: Callable[[], object], times: int) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return float(np.median(spent))


def analysis_figures(times: int, length_s: float) -> dict[str, float]:
    """Time the analysis of a recording in memory and one rfft of each of its channels, turn about."""
    test = make_recording(length_s, _RATE_HZ)
    limits, words = limits_of(test.job), worded(test.job)
    channels = [np.array(channel.values) for channel in test.recording.channels]
    pulls = analyse(test.recording, test.job, limits, words).result.pulls
    if len(pulls) != len(test.truth.pulls) or any(pull.set_pressure_pa is None for pull in pulls):
        sys.exit("the timed analysis does not find its pulls: its time says nothing")
    spent = {"analyse": [], "rfft": []}
    for _ in range(times):
        spent["rfft"].append(_median_s(lambda: [np.fft.rfft(values) for values in channels], 3))
        spent["analyse"].append(_median_s(lambda: analyse(test.recording, test.job, limits, words), 1))
        print(f"analyse {spent['analyse'][-1]:.2f} s, rfft {spent['rfft'][-1]:.3f} s", file=sys.stderr, flush=True)
    analyse_s, rfft_s = (float(np.median(spent[key])) for key in ("analyse", "rfft"))
    return {
        "analyse_over_rfft_ratio": round(analyse_s / rfft_s, 3),
        "analyse_s": round(analyse_s, 4),
        "rfft_s": round(rfft_s, 5),
        "sample_count": int(sum(values.size for values in channels)),
    }


def detector_figures(recordings: int) -> dict[str, float]:
    """Time the detector alone, a pull, at 2 kHz, over clean recordings."""
    spent: list[float] = []
    for index in range(recordings):
        test = make_recording(_LENGTH_S, 2000.0, seed=100 + index)
        signals = condition(test.recording, test.job)
        assert signals.force is not None
        windows = find_pulls(signals.force)
        for window, following in zip(windows, [*windows[1:], None], strict=True):
            until = float(signals.force.time_s[-1]) if following is None else following.start_s
            start = time.perf_counter()
            found = find_first_lift(signals, window, until_s=until, open_before=False)
            spent.append(time.perf_counter() - start)
            if found.joint is None:
                sys.exit("the timed detector missed a pull: its time says nothing")
    return {"detector_ms": round(1e3 * float(np.median(spent)), 3), "detector_pull_count": len(spent)}


def help_figures(times: int) -> dict[str, float]:
    """Time ``firstlift --help``, a fresh process each."""
    command = [sys.executable, "-m", "firstlift.cli.main", "--help"]
    installed = Path(sys.executable).with_name("firstlift")
    if installed.exists():
        command = [str(installed), "--help"]

    def ask() -> None:
        out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
        if "analyse" not in out:
            sys.exit("--help does not name its commands: its time says nothing")

    ask()
    return {"help_s": round(_median_s(ask, times), 4), "help_run_count": times}


def write_waveform_case(folder: Path, length_s: float) -> Path:
    """Write a test whose sound is a 1 MHz waveform to a TDMS file, a stretch at a time; give its job sheet."""
    from nptdms import ChannelObject, TdmsWriter

    test = make_recording(length_s, _RATE_HZ)
    sound = next(spec.column for spec in test.job.channels if spec.column == "acoustic")
    rng = np.random.default_rng(5)
    level_s, level = test.columns[sound]
    with TdmsWriter(str(folder / "recording.tdms")) as writer:
        slow = [
            ChannelObject("test", column, values, {"wf_increment": 1.0 / _RATE_HZ})
            for column, (_, values) in test.columns.items()
            if column != sound
        ]
        writer.write_segment(slow)
        size = int(_WAVE_HZ)
        for first in range(int(length_s)):
            times = first + np.arange(size) / _WAVE_HZ
            wave = np.interp(times, level_s, level) * rng.standard_normal(size)
            properties = {"wf_increment": 1.0 / _WAVE_HZ}
            writer.write_segment([ChannelObject("test", sound, wave.astype(np.float32), properties)])
    text = jobsheet_text(test).replace('file = "recording.csv"', 'file = "recording.tdms"')
    text = text.replace('time = "time_s"', 'time = "waveform"').replace('form = "level"', 'form = "waveform"')
    sheet = folder / "jobsheet.toml"
    sheet.write_text(text, encoding="utf-8")
    return sheet


# Linux hands the peak of the process that started it on through exec, so that getrusage of a fresh process may
# show its parent's: the high-water mark of its own memory is asked there instead
_CHILD = """
import json, resource, sys, time
from pathlib import Path
from firstlift.usecases.analyse import analyse_jobsheet
start = time.perf_counter()
result = analyse_jobsheet(Path(sys.argv[1])).analysis.result
seconds = time.perf_counter() - start
status = Path("/proc/self/status")
if status.exists():
    line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    peak_kb = float(line.split()[1])
else:
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e3 if sys.platform == "darwin" else 1.0)
print(json.dumps([peak_kb, seconds, sum(pull.set_pressure_pa is not None for pull in result.pulls)]))
"""


def memory_figures(length_s: float) -> dict[str, float]:
    """Read, analyse and measure the peak memory in a process of its own: 1 MHz sound beside five channels."""
    with tempfile.TemporaryDirectory() as folder:
        sheet = write_waveform_case(Path(folder), length_s)
        size_mb = (Path(folder) / "recording.tdms").stat().st_size / 1e6
        print(f"waveform file of {size_mb:.0f} MB written", file=sys.stderr, flush=True)
        child = subprocess.run([sys.executable, "-c", _CHILD, str(sheet)], check=True, capture_output=True, text=True)
    peak_kb, seconds, numbers = json.loads(child.stdout.splitlines()[-1])
    if numbers == 0:
        sys.exit("nothing was measured beside the waveform: its memory says nothing")
    return {
        "acoustic_peak_memory_mb": round(peak_kb / 1e3, 1),
        "acoustic_analyse_s": round(seconds, 2),
        "acoustic_file_mb": round(size_mb, 1),
        "acoustic_length_s": length_s,
    }


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add this benchmark's own options."""
    parser.add_argument("--times", type=int, metavar="N", help="repetitions (full: 9)")


def run(options: argparse.Namespace) -> dict[str, float]:
    """Run all, give the figures."""
    times = options.times or (3 if options.quick else 9)
    out = help_figures(3 * times)
    out |= detector_figures(1 if options.quick else 6)
    # what is compared keeps its full length even in the short run: the ratio depends on it
    out |= analysis_figures(times, _LENGTH_S)
    out |= memory_figures(_LENGTH_S)
    out["repetition_count"] = times
    return out
