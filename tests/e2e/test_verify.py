"""``firstlift verify``: exit 0 only for a certificate that is whole and current; its data give the same again."""

import json
import shutil

import pytest

ANSWERS = ["whole", "signed_by", "trusted", "superseded_by", "recomputed"]


def told(done):
    assert done.stderr == ""
    (line,) = done.stdout.splitlines()
    return json.loads(line)


@pytest.fixture(scope="module")
def paper(small, run, tmp_path_factory):
    path = tmp_path_factory.mktemp("paper") / "paper.pdf"
    done = run("analyse", small, "--json", "--certificate", path)
    assert "signed with a key that this program made" in done.stderr
    return path


def test_a_fresh_certificate_is_whole_and_gives_the_same_again(run, paper):
    done = run("verify", paper, "--json")
    found = told(done)
    assert done.returncode == 0
    assert list(found)[:5] == ANSWERS
    assert [found[key] for key in ANSWERS[2:]] == [False, None, "same"]
    assert found["whole"] is True
    assert "identity not checked" in found["signed_by"]


def test_people_are_told_the_same(run, paper):
    done = run("verify", paper)
    assert (done.returncode, done.stderr) == (0, "")
    for words in ("no byte was changed", "not checked by anyone", "no register was asked", "every printed digit"):
        assert words in done.stdout


def test_a_changed_byte_is_told(run, paper, tmp_path):
    data = bytearray(paper.read_bytes())
    data[len(data) // 3] ^= 1
    (tmp_path / "changed.pdf").write_bytes(data)
    done = run("verify", tmp_path / "changed.pdf", "--json")
    assert done.returncode == 1
    assert told(done)["whole"] is False


@pytest.mark.parametrize("content", [b"", b"not a PDF", b"%PDF-1.7\n%%EOF\n"])
def test_what_is_no_certificate_is_told(run, tmp_path, content):
    (tmp_path / "other.pdf").write_bytes(content)
    done = run("verify", tmp_path / "other.pdf", "--json")
    found = told(done)
    assert done.returncode == 1
    assert (found["whole"], found["signed_by"], found["recomputed"], found["current"]) == (False, None, None, False)


def test_a_file_that_is_not_there_is_told(run, tmp_path):
    done = run("verify", tmp_path / "missing.pdf", "--json")
    assert (done.returncode, done.stdout) == (3, "")
    assert "VER-001" in done.stderr


def test_a_draft_and_an_unsigned_one_do_not_pass(run, small, tmp_path):
    run("analyse", small, "--certificate", tmp_path / "draft.pdf", "--draft")
    draft = run("verify", tmp_path / "draft.pdf", "--json")
    assert (draft.returncode, told(draft)["whole"], told(draft)["state"]) == (1, True, "draft")
    for name in ("a.pdf", "b.pdf"):
        assert run("analyse", small, "--certificate", tmp_path / name, "--unsigned").stderr == ""
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    unsigned = run("verify", tmp_path / "a.pdf", "--json")
    assert (unsigned.returncode, told(unsigned)["whole"], told(unsigned)["recomputed"]) == (1, False, "same")


def test_an_own_key_signs_and_is_trusted_where_the_reader_says_so(run, small, tmp_path):
    key, phrase, public = tmp_path / "own.p12", tmp_path / "phrase.txt", tmp_path / "own.pem"
    phrase.write_text("a long enough phrase\n", encoding="utf-8")
    made = run("certificate", "key", "--name", "Field team 2", "--passphrase-file", phrase, "--public", public, key)
    assert (made.returncode, made.stderr) == (0, "")
    signed = run(
        "analyse", small, "--json", "--certificate", tmp_path / "p.pdf", "--sign", key, "--passphrase-file", phrase
    )
    assert signed.stderr == ""
    found = told(run("verify", tmp_path / "p.pdf", "--json", "--trust", public))
    assert (found["whole"], found["signed_by"], found["trusted"]) == (True, "Field team 2", True)
    assert told(run("verify", tmp_path / "p.pdf", "--json"))["trusted"] is False


def test_a_wrong_passphrase_writes_nothing(run, small, tmp_path):
    key, phrase = tmp_path / "own.p12", tmp_path / "phrase.txt"
    phrase.write_text("first", encoding="utf-8")
    assert run("certificate", "key", "--passphrase-file", phrase, key).returncode == 0
    phrase.write_text("second", encoding="utf-8")
    done = run("analyse", small, "--certificate", tmp_path / "p.pdf", "--sign", key, "--passphrase-file", phrase)
    assert (done.returncode, done.stdout) == (3, "")
    assert "SIG-001" in done.stderr
    assert not (tmp_path / "p.pdf").exists()


def test_the_issuers_settings_are_printed_and_wrong_ones_told(run, small, tmp_path):
    settings = tmp_path / "issuer.toml"
    settings.write_text('format = "firstlift-paper-1"\n[issuer]\nname = "Invented team"\n[layout]\npaper = "letter"\n')
    paper = tmp_path / "p.pdf"
    assert run("analyse", small, "--certificate", paper, "--issuer", settings).returncode in (0, 1)
    assert b"[0 0 612 792]" in paper.read_bytes()
    settings.write_text('format = "firstlift-paper-1"\n[layout]\npapier = "letter"\nsections = ["rule"]\n')
    done = run("analyse", small, "--certificate", tmp_path / "q.pdf", "--issuer", settings)
    assert (done.returncode, done.stdout) == (3, "")
    assert done.stderr.count("CRT-004") == 2
    assert "did you mean 'paper'" in done.stderr


def test_a_recording_kept_apart_is_asked_for_by_its_hash(run, small, paper, tmp_path):
    folder = tmp_path / "case"
    shutil.copytree(small.parent, folder)
    settings = ("--attach-up-to", "1 kB")
    run("analyse", folder / small.name, "--certificate", tmp_path / "p.pdf", *settings)
    done = run("verify", tmp_path / "p.pdf", "--json")
    assert (done.returncode, told(done)["recomputed"]) == (0, None)
    again = run("verify", tmp_path / "p.pdf", "--json", "--recording", folder / "demo-recording.csv")
    assert (again.returncode, told(again)["recomputed"]) == (0, "same")
    other = run("verify", tmp_path / "p.pdf", "--json", "--recording", small)
    assert (other.returncode, other.stdout) == (3, "")
    assert "VER-004" in other.stderr


def test_many_sheets_give_one_paper_each_named_by_its_number(run, small, not_lifted, tmp_path):
    folder = tmp_path / "papers"
    folder.mkdir()
    done = run("analyse", small, not_lifted[0], "--json", "--certificates", folder, "--unsigned")
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == 2
    papers = sorted(folder.iterdir())
    assert len(papers) == 2
    assert [path.suffix for path in papers] == [".pdf", ".pdf"]
    assert papers[0].stem == json.loads(run("verify", papers[0], "--json").stdout)["number"]
