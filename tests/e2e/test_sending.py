"""Sending from the command line: a contact, a message file, a mail server, the outbox, and what identifies somebody."""

import email
from email.policy import default

import pytest
from tests.contract.store import entries as e
from tests.made_papers import fill, issue
from tests.smtp_server import MailServer

from firstlift.cli.main import main
from firstlift.store.open import create_store


@pytest.fixture
def place(tmp_path):
    store = create_store(tmp_path / "register", store_id=e.ident(7), at=e.AT)
    fill(store)
    issue(store)
    store.close()
    return tmp_path / "register"


def run(*words, place):
    return main([*words, "--store", str(place)])


def test_a_contact_is_kept_written_to_and_forgotten(place, tmp_path, capsys):
    words = ("owner=Marrow Bay Energy", "name=Cleo Post", "email=cleo@example.org", "language=fr")
    assert run("register", "add", "contact", *words, place=place) == 0
    out = tmp_path / "message.eml"
    sent = ("certificate", "send", "MB-00001", "--to", "Cleo Post", "--by", "Ann Example")
    assert run(*sent, "--out", str(out), place=place) == 0
    got = email.message_from_bytes(out.read_bytes(), policy=default)
    assert got.get_body().get_content().startswith("Bonjour Cleo Post,")
    assert run("register", "erase", "cleo@example.org", place=place) == 0
    assert run(*sent, "--out", str(out), place=place) == 3
    assert "SND-002" in capsys.readouterr().err
    assert run("audit", place=place) == 0


def test_an_address_that_is_none_is_refused(place, capsys):
    words = ("owner=Marrow Bay Energy", "name=Cleo Post", "email=cleo@example.org, eve@example.org")
    assert run("register", "add", "contact", *words, place=place) != 0
    assert "SND-001" in capsys.readouterr().err


def test_a_server_takes_it_now_or_later(place, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("FIRSTLIFT_MAIL_PASSWORD", "five grey herons")
    with MailServer(tmp_path, fails="sender-later", times=1) as server:
        settings = tmp_path / "mail.toml"
        settings.write_text(
            f'format = "firstlift-mail-1"\n[server]\nhost = "127.0.0.1"\nport = {server.port}\nuser = "valves"\n'
            'ca_file = "server.pem"\n[from]\naddress = "valves@example.org"\n'
        )
        sent = ("certificate", "send", "MB-00001", "--to", "ben@example.org", "--by", "Ann Example")
        assert run(*sent, "--mail", str(settings), place=place) == 1
        assert "waiting" in capsys.readouterr().out
        assert run(*sent, "--mail", str(settings), place=place) == 0
        assert run("certificate", "outbox", "--mail", str(settings), place=place) == 0
        said = capsys.readouterr().out
        assert "five grey herons" not in said
        assert len(server.messages) == 1


def test_one_way_is_asked_for(place, capsys):
    assert run("certificate", "send", "MB-00001", "--to", "Ben Example", "--by", "Ann Example", place=place) == 2
    assert "USE-003" in capsys.readouterr().err
