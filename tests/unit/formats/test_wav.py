"""WAV: codings, sizes that lie, torn files."""

import struct

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.formats.source import open_source

RATE_HZ = 96_000
FRAMES = np.column_stack([np.sin(np.arange(400) / 7.0), np.linspace(-1.0, 0.99, 400)]) * 0.9


def opened(tmp_path, content):
    path = tmp_path / "sound.wav"
    path.write_bytes(content)
    return open_source(path)


@pytest.mark.parametrize("extensible", [False, True])
@pytest.mark.parametrize(
    ("bits", "floats"), [(8, False), (16, False), (24, False), (32, False), (32, True), (64, True)]
)
def test_every_coding_in_full_scales(tmp_path, made, bits, floats, extensible):
    content = made.wav(FRAMES, RATE_HZ, bits=bits, floats=floats, extensible=extensible)
    with opened(tmp_path, content) as source:
        assert [(c.name, c.length, c.unit) for c in source.channels] == [
            ("channel 1", 400, None),
            ("channel 2", 400, None),
        ]
        assert not source.torn
        for n, channel in enumerate(source.channels):
            assert channel.dt_s == pytest.approx(1 / RATE_HZ)
            least = 2.0 ** (1 - bits) if not floats else {32: 1e-7, 64: 0.0}[bits]
            np.testing.assert_allclose(channel.read(0, 400), FRAMES[:, n], rtol=0, atol=0.51 * least)
            np.testing.assert_array_equal(channel.read(17, 60), channel.read(0, 400)[17:60])


def test_ends_of_the_scale(tmp_path, made):
    for bits in (8, 16, 24, 32):
        ends = np.array([-1.0, 0.0, 1.0 - 2.0 ** (1 - bits)])
        with opened(tmp_path, made.wav(ends, 8000, bits=bits)) as source:
            np.testing.assert_array_equal(source.channels[0].read(0, 3), ends)


def test_long_files_state_their_size_elsewhere(tmp_path, made):
    with opened(tmp_path, made.wav(FRAMES, RATE_HZ, bits=16, container=b"RF64", after=b"note\4\0\0\0abcd")) as source:
        assert source.channels[0].length == 400
        assert not source.torn


@pytest.mark.parametrize("size", [0, 0xFFFFFFFF, 10_000])
def test_a_recorder_that_crashed_left_a_wrong_size(tmp_path, made, size):
    content = made.wav(FRAMES, RATE_HZ, bits=24, size=size)[:-5]
    with opened(tmp_path, content) as source:
        assert source.torn
        assert source.channels[1].length == 399
        np.testing.assert_allclose(source.channels[1].read(0, 399), FRAMES[:399, 1], atol=1e-6)


def test_no_samples_are_none_and_what_follows_is_not_taken_for_them(tmp_path, made):
    content = made.wav(np.empty((0, 1)), 8000, bits=16, after=b"LIST\4\0\0\0abcd")
    with opened(tmp_path, content) as source:
        assert source.channels[0].length == 0
        assert not source.torn


@pytest.mark.parametrize(
    ("coding", "code", "said"), [(6, "REC-003", "A-law"), (85, "REC-003", "MP3"), (4711, "REC-003", "4711")]
)
def test_packed_sound_is_refused(tmp_path, made, coding, code, said):
    content = made.wav(FRAMES, RATE_HZ, bits=16)
    content = content.replace(b"\x10\0\0\0\1\0", b"\x10\0\0\0" + struct.pack("<H", coding))
    with pytest.raises(FirstliftError, match=said) as caught:
        opened(tmp_path, content)
    assert caught.value.problems[0].code == code


def test_headings_that_lie(tmp_path, made):
    content = made.wav(FRAMES, RATE_HZ, bits=16)
    for at, wrong in ((22, b"\0\0"), (24, b"\0\0\0\0"), (32, b"\5\0"), (50, b"lost")):
        with pytest.raises(FirstliftError, match="REC-004"):
            opened(tmp_path, content[:at] + wrong + content[at + len(wrong) :])
