"""Which key signs: the one named, else the program's own, made once and kept for its owner alone."""

import datetime as dt
import os

import pytest

from firstlift.certificate.keys import make_key, write_key
from firstlift.core.errors import FirstliftError, UsageError
from firstlift.usecases.keys import home, passing_key, read_passphrase, signing_key

NOW = dt.datetime(2026, 5, 14, tzinfo=dt.UTC)


@pytest.fixture(autouse=True)
def own_home(monkeypatch, tmp_path):
    monkeypatch.setenv("FIRSTLIFT_HOME", str(tmp_path / "home"))


def test_the_programs_own_key_is_made_once(tmp_path):
    first, second = signing_key(at=NOW), signing_key(at=NOW)
    assert first.self_made
    assert first.signer.signing_cert == second.signer.signing_cert
    path = tmp_path / "home" / "keys" / "self-made.p12"
    assert home() == tmp_path / "home"
    if os.name == "posix":
        assert path.stat().st_mode & 0o777 == 0o600


def test_where_nothing_may_be_kept_a_key_serves_once(tmp_path):
    (tmp_path / "home").write_text("a file where the folder should be")
    assert signing_key(at=NOW).self_made
    assert passing_key(at=NOW).signer.signing_cert != passing_key(at=NOW).signer.signing_cert


def test_a_named_key_is_used_with_its_passphrase(tmp_path):
    write_key(tmp_path / "own.p12", make_key("Field team", made_at=NOW, passphrase=b"first line"))
    (tmp_path / "phrase").write_bytes(b"first line\r\nnot this\n")
    assert signing_key(tmp_path / "own.p12", tmp_path / "phrase", at=NOW).name == "Field team"
    with pytest.raises(FirstliftError, match="SIG-001"):
        signing_key(tmp_path / "own.p12", at=NOW)


def test_a_passphrase_that_cannot_be_used_is_told(tmp_path):
    (tmp_path / "empty").write_bytes(b"\nsecond line")
    with pytest.raises(FirstliftError, match="SIG-001 the passphrase is empty"):
        read_passphrase(tmp_path / "empty")
    with pytest.raises(FirstliftError, match="SIG-001 the passphrase cannot be read"):
        read_passphrase(tmp_path / "missing")
    with pytest.raises(UsageError, match="USE-003"):
        signing_key(None, tmp_path / "empty", at=NOW)
