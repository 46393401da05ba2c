"""Sending a certificate in the app: whom, what it says, by which way; the outbox; contacts and what identifies them."""

import email
import re
from email.policy import default
from uuid import uuid4

import pytest
from tests.made_papers import issue
from tests.smtp_server import MailServer
from tests.web.app_server import served

from firstlift.core.register.contacts import Contact
from firstlift.core.register.people import Person
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import ValveTest
from firstlift.store.outbox import State
from firstlift.usecases.sending.contacts import ContactAsked, add_contact
from firstlift.usecases.sending.settings import MailServer as Stated
from firstlift.usecases.sending.settings import MailSettings, Security
from firstlift.web.postman import Postman
from firstlift.web.settings import Settings

PASSWORD = "five grey herons"


def people_of(store):
    with store.read() as reader:
        found = {p.details.name.split()[0]: p.id for p in reader.list(Person) if p.details}
    return found["Ada"], found["Eda"]


@pytest.fixture
def hung(store):
    """A recorded test of a valve that hung somewhere on a visit, and its site."""
    with store.read() as reader:
        tests = reader.list(ValveTest, order=("-at",), limit=400)
        test = next(t for t in tests if t.position_id and t.visit_id and t.verdict)
        return test, reader.get(Site, reader.get(Position, test.position_id).site_id)


@pytest.fixture
def paper(store, hung):
    return issue(store, test=hung[0], people=people_of(store))


@pytest.fixture
def contact(store, hung):
    asked = ContactAsked(hung[1].owner_id, hung[1].id, "Björn Beispiel", "bjoern@example.org", "de", "plant")
    return add_contact(store, asked, who="program:test")


@pytest.fixture
def mail(tmp_path):
    (tmp_path / "mail").mkdir()
    password = tmp_path / "mail" / "password"
    password.touch(mode=0o600)
    password.write_text(PASSWORD)
    with MailServer(tmp_path / "mail") as server:
        stated = Stated("127.0.0.1", server.port, Security.STARTTLS, "valves", password, server.cert)
        server.settings = MailSettings(stated, "valves@marrow.example.org", "Field proving team")
        yield server


@pytest.fixture
def with_mail(store, register, mail):
    settings = Settings(register / "accounts.sqlite", invented=True, mail=mail.settings)
    with served(store, settings) as browser:
        yield browser.work_as("Ada")


def test_a_certificate_is_looked_at_in_the_recipients_language_and_sent_by_the_server(
    with_mail, store, paper, contact, mail
):
    page = f"/papers/{paper.text}/send"
    looked = with_mail.post(page, {"to": str(contact.id), "note": "See you on Monday", "act": "look"}, page=page)
    assert "Guten Tag Björn Beispiel," in looked.text
    assert "Send by the mail server" in looked.text
    sent = with_mail.post(page, {"to": str(contact.id), "note": "See you on Monday", "act": "server"}, page=page)
    assert sent.url.path == "/outbox"
    assert "waits" in sent.text
    assert Postman(store, with_mail.app.state.outbox, mail.settings).go_once() == 1
    (data,) = mail.messages
    got = email.message_from_bytes(data, policy=default)
    assert "See you on Monday" in got.get_body().get_content()
    assert "bjoern@example.org" in got["To"]
    told = with_mail.get(f"/papers/{paper.text}").text
    assert "Björn Beispiel" in told
    assert "Ada Quillfeather" in told
    assert "program:app" not in told
    assert PASSWORD not in sent.text + told + looked.text


def test_without_a_server_a_message_is_made_ready_and_taken_as_a_file(ada, store, paper, contact):
    page = f"/papers/{paper.text}/send"
    looked = ada.post(page, {"to": str(contact.id), "act": "look"}, page=page)
    assert 'value="server"' not in looked.text
    refused = ada.post(page, {"to": str(contact.id), "act": "server"}, page=page)
    assert (refused.status_code, "SND-006" in refused.text) == (422, True)
    ready = ada.post(page, {"to": str(contact.id), "act": "file"}, page=page)
    (link,) = re.findall(r'href="(/outbox/[^"]+\.eml)"', ready.text)
    taken = ada.get(link)
    assert taken.headers["content-type"] == "message/rfc822"
    assert taken.headers["content-disposition"].startswith(f'attachment; filename="{paper.text}-')
    got = email.message_from_bytes(taken.content, policy=default)
    assert [one.get_content() for one in got.iter_attachments()] == [b"%PDF-1.7 invented"]
    done = ada.post(link.replace("message.eml", "sent"), page="/outbox")
    assert "sent by one&#39;s own mail program" in done.text
    assert ada.get(link).status_code == 422


def test_a_message_is_stopped_and_one_that_failed_is_tried_again(with_mail, store, paper, contact, mail):
    page = f"/papers/{paper.text}/send"
    with_mail.post(page, {"to": str(contact.id), "act": "server"}, page=page)
    mail.fails = "sign-in"
    postman = Postman(store, with_mail.app.state.outbox, mail.settings)
    postman.go_once()
    shown = with_mail.get("/outbox").text
    assert "not sent" in shown or "failed" in shown
    assert "535 5.7.8 wrong user or password" in shown
    (again,) = re.findall(r'action="(/outbox/[^"]+/again)"', shown)
    mail.fails = ""
    with_mail.post(again, page="/outbox")
    assert postman.go_once() == 1
    assert with_mail.post(again, page="/account").status_code == 422
    with_mail.post(page, {"to": str(contact.id), "act": "server"}, page=page)
    (stop,) = re.findall(r'action="(/outbox/[^"]+/stop)"', with_mail.get("/outbox").text)
    with_mail.post(stop, page="/outbox")
    assert postman.go_once() == 0
    assert with_mail.app.state.outbox.counts() == {State.SENT: 1, State.STOPPED: 1}


def test_a_draft_is_not_sent_and_a_superseded_one_only_where_that_is_said(ada, store, paper, contact, hung):
    draft = issue(store, issued=False, test=hung[0], people=people_of(store))
    assert ada.get(f"/papers/{draft.text}/send").status_code == 422
    assert "/send" not in ada.get(f"/papers/{draft.text}").text
    issue(store, supersedes=paper, reason="corrected", pdf=b"%PDF-1.7 new", test=hung[0], people=people_of(store))
    page = f"/papers/{paper.text}/send"
    refused = ada.post(page, {"to": str(contact.id), "act": "file"}, page=page)
    assert (refused.status_code, "SND-003" in refused.text) == (422, True)
    looked = ada.post(page, {"to": str(contact.id), "said": "yes", "act": "look"}, page=page)
    assert "gilt nicht mehr" in looked.text


def test_all_papers_of_a_visit_go_with_its_summary_in_each_language(ada, store, paper, contact, hung):
    visit = hung[0].visit_id
    page = f"/visits/{visit}/send"
    form = {"paper": paper.text, "summary": "yes", "to": str(contact.id), "act": "file"}
    assert paper.text in ada.get(page).text
    ready = ada.post(page, form, page=page)
    (link,) = re.findall(r'href="(/outbox/[^"]+\.eml)"', ready.text)
    got = email.message_from_bytes(ada.get(link).content, policy=default)
    names = [one.get_filename() for one in got.iter_attachments()]
    assert names[0] == f"{paper.text}.pdf"
    assert names[1].endswith("-de.pdf")
    nothing = ada.post(page, {"to": str(contact.id), "act": "file"}, page=page)
    assert (nothing.status_code, "SND-002" in nothing.text) == (422, True)


def test_a_contact_is_added_changed_and_forgotten(ada, store, hung, paper):
    site = hung[1]
    page = f"/papers/{paper.text}/send"
    form = {
        "place": f"site:{site.id}",
        "name": "Béa Exemple",
        "address": "bea@example.org",
        "language": "fr",
        "back": page,
    }
    assert ada.post("/contacts", form, page=page).url.path == page
    with store.read() as reader:
        (made,) = reader.list(Contact)
    bad = ada.post("/contacts", form | {"address": "bea@example.org, eve@example.org"}, page="/contacts")
    assert (bad.status_code, "SND-001" in bad.text) == (422, True)
    ada.post(f"/contacts/{made.id}", form | {"address": "bea@new.example.org"}, page="/contacts")
    assert "bea@new.example.org" in ada.get("/contacts").text
    ada.post(page, {"to": str(made.id), "act": "file"}, page=page)
    gone = ada.post(f"/contacts/{made.id}/erase", page="/contacts")
    assert "bea@new.example.org" not in gone.text
    assert "Béa" not in ada.get("/outbox").text + ada.get(f"/papers/{paper.text}").text
    assert ada.app.state.outbox.every()[0].state is State.STOPPED
    assert ada.get("/outbox", follow_redirects=False).status_code == 200


def test_a_reader_sends_nothing_and_sees_no_addresses(laptop, store, paper, contact):
    laptop.work_as("Ivo") if "Ivo" in laptop.get("/who").text else laptop.work_as(reader_of(store))
    for path in ("/contacts", "/outbox", f"/papers/{paper.text}/send"):
        assert laptop.get(path).status_code == 403
    shown = laptop.get(f"/papers/{paper.text}").text
    assert "/send" not in shown
    page = {"to": str(contact.id), "act": "file"}
    assert laptop.post(f"/papers/{paper.text}/send", page, page="/account").status_code == 403
    assert laptop.app.state.outbox.every() == []


def reader_of(store):
    with store.read() as reader:
        return next(p.details.name for p in reader.list(Person) if p.role in ("inspector", "reader"))


def test_nobody_sends_to_a_contact_of_another_owner_by_its_identifier(ada, store, paper):
    page = f"/papers/{paper.text}/send"
    for stranger in (uuid4(), "nonsense"):
        assert ada.post(page, {"to": str(stranger), "act": "file"}, page=page).status_code in (404, 422)
    assert ada.app.state.outbox.every() == []


def test_what_is_typed_into_a_note_or_name_is_never_markup_nor_a_header(ada, store, paper, hung):
    site = hung[1]
    form = {
        "place": f"site:{site.id}",
        "name": "<script>alert(1)</script>",
        "address": "x@example.org",
        "language": "en",
    }
    ada.post("/contacts", form, page="/contacts")
    with store.read() as reader:
        (made,) = reader.list(Contact)
    page = f"/papers/{paper.text}/send"
    note = "<b>x</b>\r\nBcc: eve@example.org"
    looked = ada.post(page, {"to": str(made.id), "note": note, "act": "look"}, page=page)
    assert "<script>alert" not in looked.text
    assert "&lt;b&gt;x&lt;/b&gt;" in looked.text
    ready = ada.post(page, {"to": str(made.id), "note": note, "act": "file"}, page=page)
    (link,) = re.findall(r'href="(/outbox/[^"]+\.eml)"', ready.text)
    got = email.message_from_bytes(ada.get(link).content, policy=default)
    assert got["Bcc"] is None
