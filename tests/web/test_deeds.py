"""The screen of what was done: found by person, kind and day; the chain proved; all of it as a table."""

import csv
import io
import re
import sqlite3
import time
from contextlib import closing
from uuid import uuid4

import pytest

from firstlift.core.register.people import Person
from firstlift.store.open import DATABASE
from firstlift.usecases.register.doings import DEEDS, KIND_GROUPS, DoingsAsked, all_doings, doings
from firstlift.usecases.sending.deeds import PaperDeed
from firstlift.web.deeds import Deed, note


@pytest.fixture
def hob(laptop):
    return laptop.work_as("Hob")


def person(store, name):
    with store.read() as reader:
        return next(p for p in reader.list(Person) if p.details and p.details.name.startswith(name))


def proved(browser):
    browser.post("/deeds/prove", page="/deeds")
    for _ in range(600):
        text = browser.get("/deeds").text
        if "It is being proved" not in text:
            return text
        time.sleep(0.1)
    raise AssertionError("the proof does not end")


def test_what_was_done_is_listed_the_latest_first_by_name(hob, store):
    ada = person(store, "Ada")
    note(store, Deed.SIGN_IN_GIVEN, who=str(person(store, "Hob").id), about=ada.id, role="reviewer")
    text = hob.get("/deeds").text
    row = re.search(r"<tbody>\s*<tr>(.*?)</tr>", text, re.DOTALL).group(1)
    assert "gave a sign-in" in row
    assert "reviewer" in row
    assert "Hob Driftwood" in row
    assert "Ada Quillfeather" in row


def test_it_is_found_by_person_kind_and_day(hob, store):
    ada, hob_id = person(store, "Ada"), person(store, "Hob").id
    note(store, Deed.TOKEN_MADE, who=str(hob_id), about=uuid4())
    note(store, Deed.SIGNED_IN, who=str(ada.id), about=ada.id)
    mine = hob.get(f"/deeds?who={ada.id}&group=group-sign-ins").text
    assert "signed in" in mine
    assert "made a token" not in mine
    assert "Nothing of that kind was done." in hob.get("/deeds?first=2001-01-01&last=2001-12-31").text
    assert "made a token" in hob.get("/deeds?group=group-systems&first=2026-01-01&last=9999-12-31").text
    assert hob.get("/deeds?first=nonsense").status_code == 422


def test_pages_follow_each_other_without_gap_or_repeat(hob, store):
    path, numbers = "/deeds", []
    for _ in range(4):
        text = hob.get(path).text
        numbers += [int(n) for n in re.findall(r'<tr><td class="num">(\d+)</td>', text)]
        path = "/deeds?" + re.search(r'rel="next" href="\?([^"]+)"', text).group(1).replace("&amp;", "&")
    assert numbers == list(range(numbers[0], numbers[0] - 200, -1))


def test_the_table_has_every_entry_that_was_asked_for_and_runs_nothing(hob, store):
    note(store, Deed.TOKEN_MADE, who="program:client", about=uuid4(), scopes="=1+1")
    asked = hob.get("/deeds.csv?group=group-systems")
    assert asked.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(asked.text.lstrip("\ufeff"))))
    with store.read() as reader:
        found = list(all_doings(reader, DoingsAsked(group="group-systems")))
        total = len(list(all_doings(reader, DoingsAsked())))
        assert doings(reader, DoingsAsked(), limit=1)[0].number == total
    assert [int(row["number"]) for row in rows] == [one.number for one in found]
    assert "scopes==1+1" in rows[0]["said"]
    assert not any(value.startswith(("=", "+", "@")) for row in rows for value in row.values())
    assert len(hob.get("/deeds.csv").text.splitlines()) == total + 1


def test_the_chain_is_proved_from_the_screen_and_that_is_a_deed(hob, store):
    text = proved(hob)
    number, of = re.search(r"It holds to entry (\d+)\..*?<code[^>]*>(\d+):[0-9a-f]{64}", text, re.DOTALL).groups()
    assert number == of
    with store.read() as reader:
        latest = doings(reader, DoingsAsked(group="group-proofs"), limit=1)[0]
    assert (latest.deed, latest.said) == ("chain-proved", {"entries": number, "result": "holds"})


def test_the_first_entry_that_is_broken_is_named(hob, store):
    with closing(sqlite3.connect(store.folder / DATABASE)) as raw:
        for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            raw.execute(f"DROP TRIGGER {name}")
        raw.execute("UPDATE audit_entry SET who = 'program:eve' WHERE number = 17")
        raw.commit()
    text = proved(hob)
    assert "hangs on entry 17." in text
    assert "entry 17: its content does not fit its hash" in text
    with store.read() as reader:
        said = doings(reader, DoingsAsked(group="group-proofs"), limit=1)[0].said
    assert (said["result"], said["broken"]) == ("broken", "17")


def test_only_the_office_sees_what_was_done(laptop):
    laptop.work_as("Ada")
    for path in ("/deeds", "/deeds.csv"):
        assert laptop.get(path).status_code == 403
    assert laptop.post("/deeds/prove", page="/account").status_code == 403
    assert laptop.app.state.proofs.latest is None


def test_every_deed_and_kind_belongs_to_one_group():
    from firstlift.core.register.kinds import KINDS

    deeds = [deed for group in DEEDS.values() for deed in group]
    assert sorted(deeds) == sorted([*map(str, Deed), *map(str, PaperDeed)])
    kinds = [kind for group in KIND_GROUPS.values() for kind in group]
    assert sorted(kinds) == sorted(KINDS)
