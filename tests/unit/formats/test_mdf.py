"""MDF 4: codings, conversions, packed samples, own rates, torn and unclosed files."""

import struct

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.formats.source import open_source

N = 600
TIME = np.cumsum(np.random.default_rng(6).uniform(0.9e-3, 1.1e-3, N))
WAVE = np.random.default_rng(7).normal(size=N)


def opened(tmp_path, content):
    path = tmp_path / "run.mf4"
    path.write_bytes(content)
    return open_source(path)


def one_field(made, raw, *, conversion=None, invalid=None, **field):
    """Give a file whose record is one channel of 8 bytes, and a byte of marks where ``invalid`` is given."""
    file = made.Mdf()
    cc = file.conversion(*conversion) if conversion else 0
    link = file.channel("x", 0, offset=0, cc=cc, flags=0 if invalid is None else 2, **field)
    marks = [] if invalid is None else [np.asarray(invalid, dtype=np.uint8)[:, None]]
    records = np.hstack([np.ascontiguousarray(raw)[:, None].view(np.uint8).reshape(len(raw), -1), *marks])
    width = records.shape[1] - len(marks)
    group = file.group(0, link, len(raw), width, invalid_bytes=len(marks))
    return file.finish(file.data_group(0, group, file.samples(records.tobytes())))


@pytest.mark.parametrize("how", ["plain", "list", "deflate", "24"])
@pytest.mark.parametrize("time", ["stamps", "index"])
def test_channels_at_their_own_rates(tmp_path, made, how, time):
    slow = (TIME if time == "stamps" else 1e-3, {"cell": (WAVE, "kN"), "line": (WAVE * 2, "bar")})
    fast = (1e-6, {"sound": (np.tile(WAVE, 5), "mV")})
    with opened(tmp_path, made.mdf([slow, fast], how=how)) as source:
        assert not source.torn
        named = {c.name: c for c in source.channels if c.name != "time"}
        assert [(c.unit, c.length) for c in named.values()] == [("kN", N), ("bar", N), ("mV", 5 * N)]
        np.testing.assert_array_equal(named["line"].read(0, N), WAVE * 2)
        np.testing.assert_array_equal(named["sound"].read(590, 1210), np.tile(WAVE, 5)[590:1210])
        assert (named["sound"].dt_s, named["sound"].t0_s) == (1e-6, 0.0)
        if time == "index":
            assert named["cell"].dt_s == 1e-3
        else:
            assert named["cell"].dt_s is None
            np.testing.assert_array_equal(named["cell"].time.read(0, N), TIME)


@pytest.mark.parametrize(
    ("raw", "field", "expected"),
    [
        (np.array([1.5, -2.0], ">f8"), {"coding": 5, "bits": 64}, [1.5, -2.0]),
        (np.array([1.5, -2.0], "<f4"), {"coding": 4, "bits": 32}, [1.5, -2.0]),
        (np.array([-3, 4], "<i2"), {"coding": 2, "bits": 16}, [-3, 4]),
        (np.array([-3, 4], ">i4"), {"coding": 3, "bits": 32}, [-3, 4]),
        (np.array([0xFFF0, 0x0120], "<u2"), {"coding": 2, "bits": 12, "shift": 4}, [-1, 18]),
        (np.array([0xFFF0, 0x0120], "<u2"), {"coding": 0, "bits": 12, "shift": 4}, [4095, 18]),
        (np.array([0x1234, 0x00FF], ">u2"), {"coding": 1, "bits": 10, "shift": 2}, [0x8D, 0x3F]),
        (np.array([2**64 - 1, 1], "<u8"), {"coding": 0, "bits": 64}, [2**64 - 1, 1]),
    ],
)
def test_codings(tmp_path, made, raw, field, expected):
    with opened(tmp_path, one_field(made, raw, **field)) as source:
        np.testing.assert_array_equal(source.channels[0].read(0, 2), np.array(expected))


@pytest.mark.parametrize(
    ("conversion", "expected"),
    [
        ((0, [], "kN"), [0, 1, 2, 10]),
        ((1, [-3.0, 0.5], "kN"), [-3.0, -2.5, -2.0, 2.0]),
        ((2, [0, 2, 1, 0, 0, 4], "kN"), [0.25, 0.75, 1.25, 5.25]),
        ((4, [0, 0, 2, 20, 10, 30], "kN"), [0.0, 10.0, 20.0, 30.0]),
        ((5, [0, 7, 2, 8, 9, 9], "kN"), [7, 7, 8, 9]),
        ((6, [0, 1, 5.0, 2, 3, 6.0, -1.0], "kN"), [5.0, 5.0, 6.0, -1.0]),
    ],
)
def test_conversions(tmp_path, made, conversion, expected):
    raw = np.array([0, 1, 2, 10], "<i4")
    with opened(tmp_path, one_field(made, raw, conversion=conversion, coding=2, bits=32)) as source:
        (channel,) = source.channels
        assert channel.unit == "kN"
        np.testing.assert_allclose(channel.read(0, 4), expected)


@pytest.mark.parametrize("kind", [3, 7, 8])
def test_formulas_and_texts_are_refused_by_name(tmp_path, made, kind):
    content = one_field(made, np.arange(4, dtype="<i4"), conversion=(kind, [1.0, 2.0]), coding=2, bits=32)
    with opened(tmp_path, content) as source:
        assert source.channels[0].why_not


def test_values_marked_as_invalid_are_gaps(tmp_path, made):
    content = one_field(made, WAVE[:4], invalid=[0, 8, 0, 7], coding=4, bits=64)
    content = content.replace(struct.pack("<III", 64, 2, 0), struct.pack("<III", 64, 2, 3))
    with opened(tmp_path, content) as source:
        values = source.channels[0].read(0, 4)
    np.testing.assert_array_equal(values, [WAVE[0], np.nan, WAVE[2], WAVE[3]])


@pytest.mark.parametrize("how", ["plain", "list", "deflate"])
def test_cut_off_anywhere_in_its_samples(tmp_path, made, how):
    content = made.mdf([(TIME, {"cell": (WAVE, "kN")})], how=how, samples_last=True)
    whole = len(made.mdf([(TIME[:0], {"cell": (WAVE[:0], "kN")})], how="plain", samples_last=True))
    for cut in range(whole + 200, len(content) - 120, 397):
        with opened(tmp_path, content[:cut]) as source:
            assert source.torn, cut
            cell = source.channels[1]
            assert cell.length < N
            np.testing.assert_array_equal(cell.read(0, cell.length), WAVE[: cell.length])
            np.testing.assert_array_equal(cell.time.read(0, N), TIME[: cell.length])


def test_a_file_that_was_never_closed(tmp_path, made):
    with opened(tmp_path, made.mdf([(TIME, {"cell": (WAVE, "kN")})], unclosed=True, samples_last=True)[:-20]) as source:
        assert source.torn
        assert source.channels[1].length == N - 2
        np.testing.assert_array_equal(source.channels[1].read(0, N), WAVE[: N - 2])


def test_description_lost_with_the_tear(tmp_path, made):
    content = made.mdf([(TIME, {"cell": (WAVE, "kN")})])  # samples first, as some writers put them
    with pytest.raises(FirstliftError, match="cut off") as caught:
        opened(tmp_path, content[: len(content) // 2])
    assert caught.value.problems[0].code == "REC-004"


def test_unsorted_records_are_refused_by_name(tmp_path, made):
    file = made.Mdf()
    groups = 0
    for number in (2, 1):
        link = file.channel(f"x{number}", 0, offset=0, bits=64)
        groups = file.group(groups, link, 4, 8, number=number)
    content = file.finish(file.data_group(0, groups, file.samples(bytes(72)), id_bytes=1))
    with opened(tmp_path, content) as source:
        assert ["unsorted" in c.why_not for c in source.channels] == [True, True]


def test_links_in_a_circle(tmp_path, made):
    file = made.Mdf()
    group = file.data_group(0, 0, 0)
    file.data[group + 24 : group + 32] = struct.pack("<Q", group)
    with pytest.raises(FirstliftError, match="circle"):
        opened(tmp_path, file.finish(group))
