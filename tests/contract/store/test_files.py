"""Kept files: whole or not there, and any byte that changed is seen."""

import random

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.store.files import (
    LEFTOVER,
    fault_of,
    keep_bytes,
    keep_file,
    kept_hashes,
    kept_path,
    read_kept,
    sweep,
    write_kept,
)


@pytest.mark.parametrize("data", [b"", b"a", b"line\n" * 700_000, random.Random(3).randbytes(2_500_000)], ids=len)
def test_bytes_come_back(tmp_path, data):
    (tmp_path / "source.csv").write_bytes(data)
    sha256 = keep_file(tmp_path, tmp_path / "source.csv")
    assert keep_bytes(tmp_path, data) == sha256
    assert read_kept(tmp_path, sha256) == data
    write_kept(tmp_path, sha256, tmp_path / "again.csv")
    assert (tmp_path / "again.csv").read_bytes() == data
    assert list(kept_hashes(tmp_path)) == [sha256]
    assert fault_of(tmp_path, sha256) is None


def test_it_is_compressed(tmp_path):
    sha256 = keep_bytes(tmp_path, b"1.234\t5.678\n" * 10_000)
    assert kept_path(tmp_path, sha256).stat().st_size < 2_000


def test_every_changed_byte_is_seen(tmp_path):
    sha256 = keep_bytes(tmp_path, b"0.1,2.5\n" * 40)
    path = kept_path(tmp_path, sha256)
    whole = path.read_bytes()
    for place in range(len(whole)):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x10]) + whole[place + 1 :])
        assert fault_of(tmp_path, sha256) == "damaged", place
    for other in (whole[:-1], whole + b"\0", b"", whole[:40]):
        path.write_bytes(other)
        assert fault_of(tmp_path, sha256) == "damaged"
        with pytest.raises(FirstliftError, match="STO-011"):
            read_kept(tmp_path, sha256)


def test_the_right_file_under_the_wrong_name_is_seen(tmp_path):
    one, two = keep_bytes(tmp_path, b"one"), keep_bytes(tmp_path, b"two")
    kept_path(tmp_path, one).write_bytes(kept_path(tmp_path, two).read_bytes())
    assert fault_of(tmp_path, one) == "damaged"


def test_a_missing_file_says_so(tmp_path):
    assert fault_of(tmp_path, "0" * 64) == "missing"
    with pytest.raises(FirstliftError, match="STO-010"):
        read_kept(tmp_path, "../../etc/passwd")
    with pytest.raises(FirstliftError, match="STO-010"):
        keep_file(tmp_path, tmp_path / "nothing.csv")


def test_what_a_crash_left_is_swept_once_it_is_old(tmp_path):
    keep_bytes(tmp_path, b"kept")
    left = tmp_path / "recordings" / f"{LEFTOVER}abc"
    left.write_bytes(b"half")
    born = left.stat().st_mtime
    assert sweep(tmp_path, older_than_s=60.0, now_s=born + 30.0) == 0
    assert sweep(tmp_path, older_than_s=60.0, now_s=born + 90.0) == 1
    assert (left.exists(), len(list(kept_hashes(tmp_path)))) == (False, 1)
