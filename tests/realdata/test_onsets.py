"""Onsets in real waveforms against human and located picks. Origins and licences: tests/data/README.md."""

import numpy as np
import pytest

from firstlift.core.lift.pick import pick_onset

TABLES = {
    "test_clear_acoustic_emission": ("ae_fault/picks.csv", lambda row: row["class"] == "clear"),
    "test_buried_acoustic_emission": ("ae_fault/picks.csv", lambda row: row["class"] != "clear"),
}


def fault_event(arrays, row):
    stored = arrays(f"ae_fault/event_{row['event']}.npz")
    return stored["wave"][list(stored["channels"]).index(row["channel"])].astype(float)


def test_clear_acoustic_emission(arrays, row):
    """Data of kura-okubo/4mNonSelfSim_Paper, MIT, (c) 2024 kura-okubo: picked by hand or located from such picks."""
    picked = pick_onset(fault_event(arrays, row))
    assert picked.reliable
    assert abs(picked.at - float(row["onset_sample"])) <= 20.0
    assert picked.standard_uncertainty < 20.0


def test_buried_acoustic_emission(arrays, row):
    """The same set: events in the coda of earlier ones, or moderate: near, or said to be unreliable with a reason."""
    picked = pick_onset(fault_event(arrays, row))
    assert (picked.reason is None) == picked.reliable
    if picked.reliable:
        assert abs(picked.at - float(row["onset_sample"])) <= 50.0


@pytest.mark.parametrize("sensor", ["trai_1", "trai_2", "trai_3", "trai_4"])
def test_plate(arrays, sensor):
    """Data of vallenae 0.14.0, MIT: four sensors on a steel plate, first threshold crossing at sample 500 or 501."""
    picked = pick_onset(arrays("ae_plate/first_2000.npz")[sensor].astype(float))
    assert picked.reliable
    assert 470.0 <= picked.at <= 501.0


def test_analysts_picks(arrays, table):
    """Data of AI4EPS/PhaseNet, MIT; waveforms of the Northern California Earthquake Data Center: 21 with SNR > 10."""
    rows = [row for row in table("seismic_onset/picks.csv") if float(row["snr_like"]) > 10.0]
    near = wrong = 0
    for row in rows:
        index = int(row["row"])
        picked = pick_onset(arrays(f"seismic_onset/traces_{index // 8}.npz")["wave"][index % 8].astype(float))
        hit = abs(picked.at - float(row["p_sample"])) <= 20.0
        near += hit
        wrong += picked.reliable and not hit
    assert len(rows) == 21
    assert near >= 0.8 * len(rows)
    assert wrong == 0


def thrust(arrays):
    stored = arrays("thrust/volts.npz")
    return stored["time_ms"] / 1000.0, stored["counts"] * float(stored["volts_per_count"])


def test_thrust_rise(arrays):
    """Data of snu-hanaro/static-fire-toolkit, MIT: a motor's thrust rises at 159.9 s; a lone spike stands at 39 s."""
    time_s, volts = thrust(arrays)
    picked = pick_onset(volts)
    assert picked.reliable
    assert 159.8 <= np.interp(picked.at, np.arange(time_s.size), time_s) <= 160.0


def test_spike_is_no_onset(arrays):
    """The same record before the rise: the spike is there, and no onset is said."""
    time_s, volts = thrust(arrays)
    quiet = volts[time_s < 150.0]
    assert 38.9 < time_s[int(np.argmax(quiet))] < 39.0
    assert quiet.max() > np.median(quiet) + 1.0
    picked = pick_onset(quiet)
    assert not picked.reliable
    assert np.isnan(picked.at)
    assert picked.reason == "no-onset"
