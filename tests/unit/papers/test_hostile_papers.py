"""Hostile text wherever a paper of a job prints one: it stands there as text, or is refused by name."""

import csv
import dataclasses
import io
import json
import typing

import openpyxl
import pikepdf
import pytest

from firstlift.certificate.labels import Label, render_labels
from firstlift.certificate.papers.typeset import typeset_paper
from firstlift.core.errors import FirstliftError
from firstlift.core.register.codec import new_person
from firstlift.core.register.equipment import Calibration, Instrument, RegisteredValve, UseCheck
from firstlift.core.register.kinds import NAME_OF
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import AdjustmentMade, HoldPoint, SiteVisit, ValveTest
from firstlift.core.seat.record import SeatRecord
from firstlift.store.open import open_store
from firstlift.store.tables import KEYS
from firstlift.usecases.visitpapers import make
from firstlift.usecases.visitpapers.exchange import exchange_bytes, visit_data
from firstlift.usecases.visitpapers.planning import PlanningAsked, make_planning
from firstlift.usecases.visitpapers.to_come import PacketAsked

from .conftest import DAY, fill, key
from .test_pages import PRINTING, said
from .test_typeset_papers import MAKERS

MARKUP = "#panic(1) $y$ *b* <l> @r {number} \\u{41} // \"q\" 'q' &amp; </svg> =1+1 %s Żółć αβγ"
REFUSED = [("PSV \U0001f600", "CRT-001"), ("a\x00b", "CRT-001"), ("abc\u202etxt", "CRT-001"), ("o" * 10_000, "CRT-002")]
# what a program reads, not a person: the layout's own words, and pictures, which are drawn here
NOT_TEXT = {"paper", "language", "logo", "mark", "severity", "align", "style", "svg", "words"}


def leaves(value, path=()):
    """Give the place of every text in a paper, as a way of fields and positions."""
    if isinstance(value, str):
        yield path
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            if field.name not in NOT_TEXT or (field.name == "words" and isinstance(value.words, str)):
                yield from leaves(getattr(value, field.name), (*path, (type(value).__name__, field.name)))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from leaves(item, (*path, index))


def with_text(value, path, text):
    """Put a text in the place of another."""
    if not path:
        return text
    step, *rest = path
    if isinstance(step, int):
        return (*value[:step], with_text(value[step], rest, text), *value[step + 1 :])
    return dataclasses.replace(value, **{step[1]: with_text(getattr(value, step[1]), rest, text)})


def kinds_of_place(paper):
    """Give one place of each kind: its last class and field, and the column where it stands in a row."""
    found = {}
    for path in leaves(paper):
        named = [step for step in path if not isinstance(step, int)]
        found.setdefault((named[-1], path[-1] if isinstance(path[-1], int) else 0), path)
    return found


@pytest.mark.parametrize("kind", MAKERS)
def test_markup_in_every_place_is_printed_as_it_stands(store, kind):
    paper = MAKERS[kind](store)
    for path in kinds_of_place(paper).values():
        paper = with_text(paper, path, MARKUP)
    with pikepdf.open(io.BytesIO(typeset_paper(paper))) as pdf:
        assert len(pdf.pages) >= len(paper.sheets)
        assert "/JavaScript" not in pdf.Root.get("/Names", {})


@pytest.mark.parametrize("kind", MAKERS)
def test_what_cannot_be_printed_is_refused_in_every_place(store, kind):
    paper = MAKERS[kind](store)
    places = kinds_of_place(paper)

    def hostile(path, text):
        """Give the paper with a text in one place, of its sheets that one alone: the others are as they were."""
        changed = with_text(paper, path, text)
        number = path[1] if path[0] == ("JobPaper", "sheets") else 0
        return dataclasses.replace(changed, sheets=changed.sheets[number : number + 1])

    assert len(places) > 10
    # only the first needs the typesetter to be found out: once a paper, in a place that differs from paper to paper
    (emoji, code), *others = REFUSED
    for path in list(places.values())[len(kind) :: 12]:
        with pytest.raises(FirstliftError, match=code):
            typeset_paper(hostile(path, emoji))
    for path in places.values():
        for text, code in others:
            with pytest.raises(FirstliftError, match=code):
                typeset_paper(hostile(path, text))


KINDS = (Owner, Site, Position, RegisteredValve, SeatRecord, Instrument, Calibration, SiteVisit)
KINDS += (ValveTest, AdjustmentMade, UseCheck, HoldPoint)
# what has a form of its own and is held to it when it is written down
OF_A_FORM = {"zone", "sheet_sha256", "recording_sha256", "verdict", "disposition", "code"}


def free_fields(kind):
    hints = typing.get_type_hints(kind)
    formed = OF_A_FORM | ({"unit"} if kind in (Instrument, Calibration) else set())
    return [name for name, hint in hints.items() if hint in (str, tuple[str, ...]) and name not in formed]


def hostile_register(folder, text):
    """Fill a register whose every free text is hostile; what it is found by stays told apart, and is never endless."""
    seen = set()

    def edit(entry):
        kind = type(entry)
        if kind is Person:
            return new_person(Person(entry.id, "technician"), PersonalDetails("salt", f"{text} {entry.id.int}"[-150:]))
        if kind not in KINDS:
            return entry
        seen.add(kind)
        names = [
            name for name in free_fields(kind) if len(text) < 200 or name not in KEYS.get(NAME_OF[kind], {}).values()
        ]
        words = {name: f"{text} {kind.__name__} {entry.id.int}" for name in names}  # noqa: C420  two kinds of value
        words = {name: (said,) if isinstance(getattr(entry, name), tuple) else said for name, said in words.items()}
        return dataclasses.replace(entry, **words)

    fill(folder, edit=edit)
    assert seen == set(KINDS)
    return open_store(folder)


def papers_of(store):
    visit = str(key(500))
    yield "packet", lambda: make.make_packet(store, visit, PacketAsked(line_share="80 %"), PRINTING, cards=True)
    yield "visit", lambda: make.make_visit(store, visit, PRINTING)
    yield "nonconformity", lambda: make.make_nonconformity(store, visit, (), PRINTING)
    yield "return", lambda: make.make_return(store, visit, (), PRINTING)
    yield "planning", lambda: make_planning(store, PlanningAsked(group_by="maker"), PRINTING)


def test_markup_in_every_field_of_the_register_is_printed_as_it_stands(tmp_path):
    store = hostile_register(tmp_path / "register", MARKUP)
    try:
        whole = ""
        for _, made in papers_of(store):
            paper = made()
            with pikepdf.open(io.BytesIO(typeset_paper(paper))) as pdf:
                assert "/OpenAction" not in pdf.Root
            whole += said(paper)
    finally:
        store.close()
    printed = {name for name in (kind.__name__ for kind in KINDS) if f"{MARKUP} {name} " in whole}
    assert printed >= {"Owner", "Site", "Position", "RegisteredValve", "Instrument", "SiteVisit", "AdjustmentMade"}
    assert f"{MARKUP} 10"[-150:] in whole


def test_the_register_itself_keeps_no_nul_and_no_endless_name(tmp_path):
    for number, text in enumerate(("a\x00b", "o" * 10_000)):
        with pytest.raises(FirstliftError, match=r"REG-003|REG-012"):
            fill(tmp_path / f"register-{number}", owner=text)


KEPT = [("a\x07b", code) if text == "a\x00b" else (text, code) for text, code in REFUSED]


@pytest.mark.parametrize(("text", "code"), KEPT, ids=["emoji", "control", "turned", "endless"])
def test_a_field_of_the_register_that_cannot_be_printed_is_refused(tmp_path, text, code):
    store = hostile_register(tmp_path / "register", text)
    try:
        for _, made in papers_of(store):
            with pytest.raises(FirstliftError, match=code):
                typeset_paper(made())
    finally:
        store.close()


@pytest.mark.parametrize("text", [MARKUP, *(text for text, _ in KEPT)], ids=lambda text: repr(text[:5]))
def test_data_of_a_visit_is_made_of_any_text(tmp_path, text):
    store = hostile_register(tmp_path / "register", text)
    try:
        data = visit_data(store, str(key(500)))
    finally:
        store.close()
    read = json.loads(exchange_bytes(data, ".json"))
    assert any(text in str(test["note"]) for test in read["tests"])
    rows = list(csv.DictReader(io.StringIO(exchange_bytes(data, ".csv").decode("utf-8-sig"))))
    assert len(rows) == len(read["tests"])
    book = openpyxl.load_workbook(io.BytesIO(exchange_bytes(data, ".xlsx")))
    assert book["tests"].max_row == len(rows) + 1


@pytest.mark.parametrize(("text", "code"), REFUSED, ids=["emoji", "control", "turned", "endless"])
@pytest.mark.parametrize("field", ["tag", "row", "head", "place", "short", "mark"])
def test_labels_print_markup_and_refuse_what_cannot_be_printed(field, text, code):
    def label(words):
        rows = ((words if field == "head" else "serial", words if field == "row" else "S-1"),)
        named = {field: words} if field not in ("row", "head") else {}
        return Label(
            **{"tag": "PSV-1", "rows": rows, "place": "North", "uri": "firstlift:valve/1", "short": "1", **named}
        )

    assert render_labels([label(MARKUP)], day=DAY).startswith(b"%PDF")
    with pytest.raises(FirstliftError, match=f"{code}|LBL-001"):
        render_labels([label(text)], day=DAY)
