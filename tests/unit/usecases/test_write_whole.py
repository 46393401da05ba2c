"""A file is written whole or not at all."""

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.usecases.certify import write_whole


def test_a_file_is_written_and_nothing_beside_it(tmp_path):
    write_whole(tmp_path / "a.pdf", b"new")
    assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [("a.pdf", b"new")]


def test_an_old_file_is_replaced(tmp_path):
    (tmp_path / "a.pdf").write_bytes(b"old and longer")
    write_whole(tmp_path / "a.pdf", b"new")
    assert (tmp_path / "a.pdf").read_bytes() == b"new"


@pytest.mark.parametrize("place", ["no/a.pdf", "folder"])
def test_what_cannot_be_written_leaves_nothing(tmp_path, place):
    (tmp_path / "folder").mkdir()
    with pytest.raises(FirstliftError, match="OUT-001"):
        write_whole(tmp_path / place, b"new")
    assert [p.name for p in tmp_path.iterdir()] == ["folder"]
    assert list((tmp_path / "folder").iterdir()) == []


def test_a_failure_midway_leaves_the_old_file_and_no_rest(tmp_path, monkeypatch):
    (tmp_path / "a.pdf").write_bytes(b"old")

    def fail(_self, _target):
        raise OSError(28, "no space left")

    monkeypatch.setattr("pathlib.Path.replace", fail)
    with pytest.raises(FirstliftError, match="no space left"):
        write_whole(tmp_path / "a.pdf", b"new")
    assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [("a.pdf", b"old")]
