"""Papers on their way: taken once by a real server, tried again, stopped, told; never twice, never in the clear."""

import email
import json
import sqlite3
from dataclasses import replace
from email.policy import default
from uuid import uuid4

import pytest
import sqlalchemy as sa
from tests.contract.store import entries as e
from tests.made_papers import fill, issue
from tests.smtp_server import MailServer

from firstlift.core.errors import FirstliftError
from firstlift.core.register.contacts import Contact, contact_name, mail_address
from firstlift.store.audit import audit
from firstlift.store.open import create_store
from firstlift.store.outbox import OUTBOX, Outbox, State, Way
from firstlift.store.tables import audit_table
from firstlift.usecases.retry import WAITS_S, next_try
from firstlift.usecases.sending.carry import carry
from firstlift.usecases.sending.contacts import ContactAsked, add_contact, change_contact, contacts_of, erase_contact
from firstlift.usecases.sending.deeds import told_of
from firstlift.usecases.sending.message import build
from firstlift.usecases.sending.queue import SendAsked, Sending, act, look, message_file, put_in
from firstlift.usecases.sending.settings import (
    MailServer as Stated,
)
from firstlift.usecases.sending.settings import MailSettings, Security, check_apart, read_mail_settings, read_password

PASSWORD = "five grey herons"
LARGE = b"%PDF-1.7 " + bytes(range(256)) * 16_000
PROGRAM = "program:test"


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=e.ident(7), at=e.AT)
    fill(made)
    yield made
    made.close()


@pytest.fixture
def outbox(store):
    return Outbox(store.folder)


@pytest.fixture
def paper(store):
    return issue(store)


@pytest.fixture
def password_file(tmp_path):
    path = tmp_path / "password"
    path.touch(mode=0o600)
    path.write_text(PASSWORD + "\n")
    return path


@pytest.fixture
def settings_for(password_file):
    def made(server, **more):
        security = Security.TLS if server.implicit else Security.STARTTLS
        stated = Stated("127.0.0.1", server.port, security, "valves", password_file, server.cert)
        return MailSettings(replace(stated, **more), "valves@marrow.example.org", "Field proving team")

    return made


def ask(paper, **more):
    return replace(SendAsked((paper.text,), (e.CONTACT.id,), Way.SERVER), **more)


def send(store, outbox, paper, mail, **more):
    (message,) = put_in(store, outbox, ask(paper, **more), Sending(e.PERSON, mail=mail))
    return message


def deeds(store):
    with store.read() as reader:
        query = sa.select(audit_table.c.after).where(audit_table.c.kind == "deed").order_by(audit_table.c.number)
        return [json.loads(text)["deed"] for text in reader.connection.execute(query).scalars()]


def at_once(outbox):
    """Let time pass: what waits is due."""
    with outbox.opened() as connection:
        connection.execute("UPDATE message SET next_at = '2000' WHERE state = 'waiting'")


def parsed(data):
    return email.message_from_bytes(data, policy=default)


@pytest.mark.parametrize("implicit", [False, True])
def test_an_issued_certificate_reaches_the_server_whole_once_and_signed_in(
    store, outbox, paper, settings_for, tmp_path, implicit
):
    with MailServer(tmp_path, implicit=implicit) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail, note="The gate is open from 8.\n.hidden")
        assert carry(store, outbox, mail, who=PROGRAM) == 1
        assert carry(store, outbox, mail, who=PROGRAM) == 0
    (data,) = server.messages
    got = parsed(data)
    (attached,) = got.iter_attachments()
    assert attached.get_content() == b"%PDF-1.7 invented"
    assert attached.get_filename() == f"{paper.text}.pdf"
    assert (got["To"], got["From"]) == (
        "Ben Example <ben@example.org>",
        "Field proving team <valves@marrow.example.org>",
    )
    body = got.get_body().get_content()
    assert body.startswith("Guten Tag Ben Example,")
    assert "\n.hidden" in body
    assert paper.signed_sha256 in body
    assert outbox.find(message.id).state is State.SENT
    assert outbox.find(message.id).body == ""
    assert deeds(store) == ["paper-to-send", "paper-sent"]
    # the password was said over TLS alone
    assert [secure for secure, line in server.seen if line.upper().startswith(("AUTH", "MAIL"))] == [True, True]


def test_the_chain_says_which_paper_by_hash_to_whom_by_identifier_and_no_name(
    store, outbox, paper, settings_for, tmp_path
):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        send(store, outbox, paper, mail, note="to Ben's desk")
        carry(store, outbox, mail, who=PROGRAM)
    with store.read() as reader:
        asked, sent = told_of(reader, paper.id)
        whole = str([tuple(row) for row in reader.connection.execute(sa.select(audit_table))])
        assert audit(reader).faults == ()
    assert (asked.who, asked.file_sha256, asked.contact_id) == (
        str(e.PERSON.id),
        paper.signed_sha256,
        str(e.CONTACT.id),
    )
    assert (sent.deed, sent.message_id) == ("paper-sent", asked.message_id)
    for word in ("Ben", "ben@example.org", PASSWORD, "desk"):
        assert word not in whole


@pytest.mark.parametrize("fails", ["no-starttls", "starttls-refused"])
def test_without_encryption_nothing_is_said_and_it_is_tried_again(store, outbox, paper, settings_for, tmp_path, fails):
    with MailServer(tmp_path, fails=fails) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        assert carry(store, outbox, mail, who=PROGRAM) == 0
        kept = outbox.find(message.id)
        assert (kept.state, kept.tries) == (State.WAITING, 1)
        assert "encryption" in kept.said
        assert not any(line.upper().startswith(("AUTH", "MAIL")) for _, line in server.seen)
        server.fails = ""
        at_once(outbox)
        assert carry(store, outbox, mail, who=PROGRAM) == 1


def test_a_server_that_does_not_prove_who_it_is_gets_nothing(store, outbox, paper, settings_for, tmp_path):
    (tmp_path / "other").mkdir()
    with MailServer(tmp_path) as server, MailServer(tmp_path / "other") as other:
        mail = settings_for(server, ca_file=other.cert)
        message = send(store, outbox, paper, mail)
        carry(store, outbox, mail, who=PROGRAM)
        assert "does not prove" in outbox.find(message.id).said
        assert not any(line.upper().startswith("AUTH") for _, line in server.seen)


def test_a_refused_sign_in_is_tried_once_and_no_more_for_what_else_waits(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path, fails="sign-in") as server:
        mail = settings_for(server)
        first, second = send(store, outbox, paper, mail), send(store, outbox, paper, mail)
        carry(store, outbox, mail, who=PROGRAM)
        carry(store, outbox, mail, who=PROGRAM)
        assert server.connections == 1
        assert {outbox.find(one.id).state for one in (first, second)} == {State.FAILED}
        assert PASSWORD not in outbox.find(first.id).said
        server.fails = ""
        act(store, outbox, first.id, State.WAITING, who=str(e.PERSON.id))
        assert carry(store, outbox, mail, who=PROGRAM) == 1
    assert deeds(store).count("paper-not-sent") == 2
    assert deeds(store)[-2:] == ["paper-to-send-again", "paper-sent"]


def test_busy_now_is_tried_again_and_taken_once(store, outbox, paper, settings_for, tmp_path):
    for fails in ("sender-later", "later"):
        with MailServer(tmp_path, fails=fails, times=1) as server:
            mail = settings_for(server)
            message = send(store, outbox, paper, mail)
            assert carry(store, outbox, mail, who=PROGRAM) == 0
            assert outbox.find(message.id).said.startswith("the server answered 451")
            # not at once
            assert carry(store, outbox, mail, who=PROGRAM) == 0
            at_once(outbox)
            assert carry(store, outbox, mail, who=PROGRAM) == 1
            assert len(server.messages) == 1


def test_an_unknown_recipient_fails_for_good_and_the_chain_keeps_no_address(
    store, outbox, paper, settings_for, tmp_path
):
    with MailServer(tmp_path, fails="rcpt-unknown") as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        carry(store, outbox, mail, who=PROGRAM)
    assert outbox.find(message.id).state is State.FAILED
    with store.read() as reader:
        assert told_of(reader, paper.id)[-1].why == "550"
    assert server.messages == []


def test_broken_off_in_the_middle_it_is_tried_again_and_arrives_once(store, outbox, settings_for, tmp_path):
    paper = issue(store, pdf=LARGE)
    with MailServer(tmp_path, fails="drop-in-data", times=1) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        assert carry(store, outbox, mail, who=PROGRAM) == 0
        assert outbox.find(message.id).state is State.WAITING
        at_once(outbox)
        assert carry(store, outbox, mail, who=PROGRAM) == 1
        (data,) = server.messages
    (attached,) = parsed(data).iter_attachments()
    assert attached.get_content() == LARGE


def test_broken_off_at_the_end_nobody_knows_and_it_is_not_sent_twice(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path, fails="drop-at-end", times=1) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        carry(store, outbox, mail, who=PROGRAM)
        at_once(outbox)
        carry(store, outbox, mail, who=PROGRAM)
        assert outbox.find(message.id).state is State.UNSURE
        assert len(server.messages) == 1
        # only a person has it sent again; a mail program sees that it is the same
        act(store, outbox, message.id, State.WAITING, who=str(e.PERSON.id))
        assert carry(store, outbox, mail, who=PROGRAM) == 1
    assert len({parsed(one)["Message-ID"] for one in server.messages}) == 1
    assert deeds(store) == ["paper-to-send", "paper-maybe-sent", "paper-to-send-again", "paper-sent"]


def test_offline_it_waits_for_ever_and_goes_when_the_server_is_back(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path) as gone:
        port = gone.port
    mail = settings_for(gone)
    message = send(store, outbox, paper, mail)
    for tries in range(1, len(WAITS_S) + 3):
        assert carry(store, outbox, mail, who=PROGRAM) == 0
        assert (outbox.find(message.id).state, outbox.find(message.id).tries) == (State.WAITING, tries)
        at_once(outbox)
    assert port
    with MailServer(tmp_path) as server:
        assert carry(store, outbox, settings_for(server), who=PROGRAM) == 1
    assert deeds(store) == ["paper-to-send", "paper-sent"]


def test_what_is_answered_no_for_now_is_given_up_in_the_end():
    assert next_try(len(WAITS_S), e.AT) is None
    assert next_try(10**6, e.AT, reached=False) is not None


def test_a_restart_in_the_middle_sends_what_was_not_taken_and_asks_about_what_may_have_been(
    store, outbox, paper, settings_for, tmp_path
):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        broken, maybe, sent, halfmade = (send(store, outbox, paper, mail) for _ in range(4))
        at = "2026-11-30T00:00:00.000+00:00"
        assert outbox.claim(broken.id, at)
        assert outbox.claim(maybe.id, at)
        outbox.given(maybe.id, at)
        # the server has it, but the chain does not yet
        assert outbox.claim(sent.id, at)
        outbox.settle(sent.id, State.SENT, "250 taken", at)
        with outbox.opened() as connection:
            old = "UPDATE message SET state = 'made', made_at = '2000-01-01T00:00:00.000+00:00' WHERE id = ?"
            connection.execute(old, (str(halfmade.id),))
        # another process begins where the first one ended
        again = Outbox(store.folder)
        # the chain had the one that was only made: it goes too
        assert carry(store, again, mail, who=PROGRAM) == 2
        assert carry(store, again, mail, who=PROGRAM) == 0
        states = {one.id: again.find(one.id).state for one in (broken, maybe, sent, halfmade)}
    assert states == {
        broken.id: State.SENT,
        maybe.id: State.UNSURE,
        sent.id: State.SENT,
        halfmade.id: State.SENT,
    }
    assert len(server.messages) == 2
    assert sorted(deeds(store)) == ["paper-maybe-sent"] + ["paper-sent"] * 3 + ["paper-to-send"] * 4


def test_what_the_chain_does_not_know_of_is_never_sent(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        outbox.add(replace(message, id=uuid4(), made_at="2000-01-01T00:00:00.000+00:00"))
        assert carry(store, outbox, mail, who=PROGRAM) == 1
    assert len(server.messages) == 1
    assert len(outbox.every()) == 1


def test_two_never_carry_at_once(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        send(store, outbox, paper, mail)
        with Outbox(store.folder).carrying() as mine:
            assert mine
            assert carry(store, outbox, mail, who=PROGRAM) == 0
        assert carry(store, outbox, mail, who=PROGRAM) == 1


def test_a_stopped_message_is_not_sent_and_one_that_is_sent_cannot_be_stopped(
    store, outbox, paper, settings_for, tmp_path
):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        stopped, other = send(store, outbox, paper, mail), send(store, outbox, paper, mail)
        act(store, outbox, stopped.id, State.STOPPED, who=str(e.PERSON.id))
        assert carry(store, outbox, mail, who=PROGRAM) == 1
        with pytest.raises(FirstliftError, match="SND-007"):
            act(store, outbox, other.id, State.STOPPED, who=str(e.PERSON.id))
    assert deeds(store).count("paper-sending-stopped") == 1


def test_a_draft_is_not_sent_and_a_superseded_one_only_where_it_says_so(store, outbox, paper):
    draft = issue(store, issued=False)
    with pytest.raises(FirstliftError, match=r"SND-003.*never issued"):
        put_in(store, outbox, ask(draft, way=Way.FILE), Sending(e.PERSON))
    new = issue(store, supersedes=paper, reason="seat diameter corrected", pdf=b"%PDF-1.7 new")
    with pytest.raises(FirstliftError, match=r"SND-003.*superseded"):
        put_in(store, outbox, ask(paper, way=Way.FILE), Sending(e.PERSON))
    (one,) = look(store, ask(paper, way=Way.FILE, said=True), Sending(e.PERSON))
    assert f"gilt nicht mehr. An ihre Stelle tritt {new.text}: seat diameter corrected" in one.body
    assert outbox.every() == []


def test_what_is_superseded_while_it_waits_does_not_go_as_if_it_stood(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        issue(store, supersedes=paper, reason="corrected", pdf=b"%PDF-1.7 new")
        assert carry(store, outbox, mail, who=PROGRAM) == 0
    assert outbox.find(message.id).state is State.FAILED
    assert server.messages == []


def test_what_is_too_large_is_refused_with_its_size(store, outbox, settings_for, tmp_path):
    paper = issue(store, pdf=LARGE)
    with MailServer(tmp_path) as server:
        mail = replace(settings_for(server), largest_bytes=5_000_000)
        with pytest.raises(FirstliftError, match=r"SND-004.*5\.6 MB.*5\.0 MB"):
            send(store, outbox, paper, mail)
        server.size = 2_000_000
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        carry(store, outbox, mail, who=PROGRAM)
    assert outbox.find(message.id).state is State.FAILED
    assert "the server takes 2.0 MB" in outbox.find(message.id).said


def test_a_message_as_a_file_opens_as_one_still_to_be_sent(store, outbox, paper):
    (message,) = put_in(store, outbox, ask(paper, way=Way.FILE), Sending(e.PERSON))
    data = message_file(store, outbox.find(message.id), "ann@example.org")
    got = parsed(data)
    assert (got["X-Unsent"], got["To"], got["From"]) == ("1", "Ben Example <ben@example.org>", "ann@example.org")
    assert [one.get_content() for one in got.iter_attachments()] == [b"%PDF-1.7 invented"]
    act(store, outbox, message.id, State.BY_HAND, who=str(e.PERSON.id))
    with pytest.raises(FirstliftError, match="SND-007"):
        message_file(store, outbox.find(message.id))
    assert deeds(store) == ["paper-made-ready", "paper-sent-by-hand"]


def test_with_the_personal_data_goes_what_waits_for_them(store, outbox, paper, settings_for, tmp_path):
    with MailServer(tmp_path) as server:
        mail = settings_for(server)
        message = send(store, outbox, paper, mail)
        assert erase_contact(store, outbox, e.CONTACT.id, who=PROGRAM) == 1
        assert carry(store, outbox, mail, who=PROGRAM) == 0
        with pytest.raises(FirstliftError, match=r"SND-002.*removed"):
            send(store, outbox, paper, mail)
    kept = outbox.find(message.id)
    assert (kept.state, kept.subject, kept.body) == (State.STOPPED, "", "")
    assert b"Ben Example" not in (store.folder / OUTBOX).read_bytes()
    with store.read() as reader:
        assert audit(reader).faults == ()


def test_papers_go_to_contacts_of_their_owner_and_site_only(store, outbox, paper):
    other = replace(e.OWNER, id=uuid4(), name="Other energy")
    with store.work(at=e.AT, who=PROGRAM) as work:
        work.add(other)
    stranger = add_contact(store, ContactAsked(other.id, None, "Eve", "eve@example.org"), who=PROGRAM)
    with pytest.raises(FirstliftError, match="SND-002"):
        put_in(store, outbox, ask(paper, contacts=(stranger.id,), way=Way.FILE), Sending(e.PERSON))
    with store.read() as reader:
        assert [one.id for one in contacts_of(reader, e.OWNER.id, e.SITE.id)] == [e.CONTACT.id]


def test_a_contact_is_changed_and_kept_once(store):
    asked = ContactAsked(e.OWNER.id, e.SITE.id, "Ben Example", "Ben@Example.org", "de")
    with pytest.raises(FirstliftError, match=r"SND-002.*there already"):
        add_contact(store, asked, who=PROGRAM)
    change_contact(store, e.CONTACT.id, replace(asked, address="ben@new.example.org", language="fr"), who=PROGRAM)
    with store.read() as reader:
        now = reader.get(Contact, e.CONTACT.id)
    assert (now.details.email, now.language) == ("ben@new.example.org", "fr")
    with pytest.raises(FirstliftError, match="WRD-002"):
        change_contact(store, e.CONTACT.id, replace(asked, language="xx"), who=PROGRAM)


GOOD = {"ben@example.org": "ben@example.org", " b.e+tag@ex-a.example.org ": "b.e+tag@ex-a.example.org",
        "jörg".replace("ö", "oe") + "@bücher.example": "joerg@xn--bcher-kva.example"}  # fmt: skip
BAD = [
    "", "ben", "@example.org", "ben@", "ben@example", "ben@@example.org", "a b@example.org", "ben@example.org, e@x.org",
    "ben@example.org\r\nBcc: eve@example.org", "ben\n@example.org", "<ben@example.org>", '"ben x"@example.org',
    "ben.@example.org", "ben..x@example.org", "ben@-x.org", "ben@x_.org", "ben@[127.0.0.1]", "b" * 65 + "@example.org",
    "ben@" + "a." * 130 + "org", "ben@exa\x00mple.org", "jörg@example.org", "ben@" + "ü" * 80 + ".org", "ben;eve@x.org",
]  # fmt: skip


@pytest.mark.parametrize("text", GOOD)
def test_an_address_is_read_as_people_write_it(text):
    assert mail_address(text) == GOOD[text]


@pytest.mark.parametrize("text", BAD)
def test_what_is_no_address_is_refused(text):
    with pytest.raises(FirstliftError, match="SND-001"):
        mail_address(text)


@pytest.mark.parametrize("text", ["", "  ", "Ben\r\nBcc: eve@example.org", "x" * 121, "Ben\x00", "Ben\u202eEve"])
def test_a_name_that_would_end_a_line_is_refused(text):
    with pytest.raises(FirstliftError, match="SND-001"):
        contact_name(text)


@pytest.mark.parametrize(
    "name", ['Ben "the" Example', "Ben, Example", "Ben <eve@example.org>", "Μπεν (x)", "=?utf-8?q?x?="]
)
def test_nothing_that_is_typed_becomes_a_header(store, outbox, name):
    paper = issue(store)
    asked = ContactAsked(e.OWNER.id, e.SITE.id, name, "b@example.org", "en", "x\r\nBcc: eve@example.org")
    contact = add_contact(store, asked, who=PROGRAM)
    note = "Hello\r\nBcc: eve@example.org\r\n\r\n.\r\nMAIL FROM:<eve@example.org>"
    asked = ask(paper, contacts=(contact.id,), way=Way.FILE, note=note)
    (message,) = put_in(store, outbox, asked, Sending(e.PERSON))
    got = parsed(message_file(store, outbox.find(message.id)))
    assert [one.addr_spec for one in got["To"].addresses] == ["b@example.org"]
    assert got["Bcc"] is None
    assert len(got.get_all("To")) == len(got.get_all("Subject")) == 1
    assert "Bcc: eve@example.org" in got.get_body().get_content()


def test_a_header_with_a_line_in_it_is_refused_by_the_way_it_is_made(store, outbox, paper):
    (message,) = put_in(store, outbox, ask(paper, way=Way.FILE), Sending(e.PERSON))
    with pytest.raises(ValueError, match=r"linefeed|newline|carriage"):
        build(replace(message, subject="x\r\nBcc: eve@example.org"), e.CONTACT.details, store.folder)


MAIL = """format = "firstlift-mail-1"
[server]
host = "mail.example.org"
user = "valves"
password_file = "password"
[from]
address = "valves@example.org"
"""


def test_settings_are_read_and_the_password_only_when_it_is_needed(tmp_path, password_file):
    path = tmp_path / "mail.toml"
    path.write_text(MAIL)
    mail = read_mail_settings(path)
    assert (mail.server.port, mail.server.security, mail.largest_bytes) == (587, Security.STARTTLS, 20_000_000)
    assert PASSWORD not in repr(mail)
    assert read_password(mail.server) == PASSWORD
    password_file.chmod(0o640)
    with pytest.raises(FirstliftError, match=r"SND-005.*others than its owner") as refused:
        read_password(mail.server)
    assert PASSWORD not in str(refused.value)


def test_a_password_may_come_from_the_environment(tmp_path, monkeypatch):
    path = tmp_path / "mail.toml"
    path.write_text(MAIL.replace('password_file = "password"\n', ""))
    mail = read_mail_settings(path)
    with pytest.raises(FirstliftError, match="SND-005"):
        read_password(mail.server)
    monkeypatch.setenv("FIRSTLIFT_MAIL_PASSWORD", PASSWORD)
    assert read_password(mail.server) == PASSWORD


@pytest.mark.parametrize(
    "change",
    [
        ('host = "mail.example.org"', 'host = "mail example"'),
        ('user = "valves"', 'security = "none"'),
        ('user = "valves"', 'password = "five grey herons"'),
        ('user = "valves"', "port = 0"),
        ('user = "valves"', 'security = "ssl"'),
        ("[from]", "[form]"),
        ('address = "valves@example.org"', 'address = "valves"'),
        ('format = "firstlift-mail-1"', ""),
        ("[server]", "[server"),
    ],
)
def test_settings_that_make_no_sense_are_refused_and_repeat_no_password(tmp_path, change):
    path = tmp_path / "mail.toml"
    path.write_text(MAIL.replace(*change))
    with pytest.raises(FirstliftError, match=r"SND-00[15]") as refused:
        read_mail_settings(path)
    assert PASSWORD not in str(refused.value)


def test_settings_and_password_lie_outside_the_register(store, tmp_path):
    path = store.folder / "mail.toml"
    path.write_text(MAIL)
    with pytest.raises(FirstliftError, match=r"SND-005.*register's folder"):
        check_apart(path, read_mail_settings(path), store.folder)
    outside = tmp_path / "mail.toml"
    outside.write_text(MAIL.replace('"password"', f'"{store.folder / "password"}"'))
    with pytest.raises(FirstliftError, match=r"SND-005.*register's folder"):
        check_apart(outside, read_mail_settings(outside), store.folder)


def test_the_outbox_is_in_no_backup_and_neither_is_a_password(store, outbox, paper, settings_for, tmp_path):
    from firstlift.store.backup import backup

    with MailServer(tmp_path) as server:
        send(store, outbox, paper, settings_for(server))
    backup(store, tmp_path / "copy")
    assert not (tmp_path / "copy" / OUTBOX).exists()
    for path in (one for one in (tmp_path / "copy").rglob("*") if one.is_file()):
        assert PASSWORD.encode() not in path.read_bytes()


def test_a_message_in_every_language_says_the_papers_and_nothing_is_left_to_fill_in(store):
    from firstlift.words.paper import languages

    paper = issue(store)
    for language in languages():
        asked = ContactAsked(e.OWNER.id, e.SITE.id, "Ben Example", f"{language}@example.org", language)
        contact = add_contact(store, asked, who=PROGRAM)
        (one,) = look(store, ask(paper, contacts=(contact.id,), way=Way.FILE), Sending(e.PERSON, invented=True))
        assert paper.text in one.subject
        assert {"{", "}"}.isdisjoint(one.subject + one.body)
        assert ("Dear" in one.body) == (language == "en")
        assert ("Invented" in one.body) == (language == "en")


def test_the_outbox_of_a_killed_process_can_be_carried(store, outbox):
    # the lock is the system's: it goes with the connection that held it
    held = sqlite3.connect(store.folder / "outbox.lock", isolation_level=None)
    held.execute("BEGIN EXCLUSIVE")
    with outbox.carrying() as mine:
        assert not mine
    held.close()
    with outbox.carrying() as mine:
        assert mine
