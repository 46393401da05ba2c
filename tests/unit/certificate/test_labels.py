"""Labels: what their code carries, which valves get one, and what is refused."""

import datetime as dt
import io
import re
import uuid

import pikepdf
import pytest
import segno

from firstlift.certificate.labels import Label, draw_code, render_labels
from firstlift.cli.main import main
from firstlift.core.errors import FirstliftError
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.store.open import create_store
from firstlift.usecases.labels import LabelWish, make_labels, valve_uri

AT = dt.datetime(2026, 3, 2, 8, 30, tzinfo=dt.UTC)
DAY = dt.date(2026, 3, 2)


def label(tag="PSV-1", **other):
    return Label(tag, (("serial", "S-1"), ("set", "10 bar")), "North", "firstlift:valve/1", "1", **other)


def pages(pdf):
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        return [tuple(float(side) for side in page.mediabox[2:]) for page in opened.pages]


def test_the_code_is_the_text_and_nothing_else():
    text = "firstlift:valve/0190d9b4-8d3c-7b1a-9f1e-2f3c4d5e6f70"
    svg = draw_code(text)
    side = int(re.search(r'width="(\d+)"', svg)[1])
    dark = {
        (int(x) + step, int(y))
        for x, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1", svg)
        for step in range(int(length))
    }
    matrix = segno.make(text, error="m", micro=False).matrix
    wanted = {(x + 4, y + 4) for y, row in enumerate(matrix) for x, module in enumerate(row) if module}
    assert dark == wanted
    assert side == len(matrix) + 8


def test_twelve_go_on_a_page_of_a4():
    assert [round(side) for side in pages(render_labels([label()] * 12, day=DAY))[0]] == [595, 842]
    assert len(pages(render_labels([label()] * 12, day=DAY))) == 1
    assert len(pages(render_labels([label()] * 13, day=DAY))) == 2


def test_a_roll_has_one_label_a_page():
    sizes = pages(render_labels([label(), label("X" * 64)], day=DAY, roll=True))
    assert [[round(side / 72 * 25.4) for side in size] for size in sizes] == [[90, 44]] * 2


def test_the_same_labels_are_the_same_bytes():
    assert render_labels([label()], day=DAY) == render_labels([label()], day=DAY)


@pytest.mark.parametrize("tag", ["阀门-1", "PSV\u202e1", "PSV\x07"])
def test_what_cannot_be_printed_is_named(tag):
    with pytest.raises(FirstliftError, match="cannot be printed"):
        render_labels([label(tag)], day=DAY)


@pytest.mark.parametrize(
    ("base", "uri"),
    [("", "firstlift:valve/{}"), ("https://valves.example/app/", "https://valves.example/app/valve/{}")],
)
def test_the_uri_is_stable(base, uri):
    assert valve_uri(uuid.UUID(int=9), base) == uri.format(uuid.UUID(int=9))


@pytest.mark.parametrize("base", ["valves.example", "javascript:alert(1)", "https://a b", "https://x?y=1"])
def test_an_address_that_is_none_is_refused(base):
    with pytest.raises(FirstliftError, match="LBL-004"):
        valve_uri(uuid.UUID(int=9), base)


@pytest.fixture
def place(tmp_path):
    ids = iter(uuid.UUID(int=n) for n in range(1, 100))
    store = create_store(tmp_path / "register", store_id=uuid.UUID(int=7), at=AT)
    owner = Owner(next(ids), "Marrow Bay Energy (invented)")
    with store.work(at=AT, who="program:test") as work:
        work.add(owner)
        for name, tags in (("North", ("PSV-1", "PSV-2")), ("South", ("PSV-1", "PSV-3"))):
            site = Site(next(ids), owner.id, name)
            work.add(site)
            for tag in tags:
                position = Position(next(ids), site.id, tag, Medium.GAS)
                work.add(position)
                if tag == "PSV-3":
                    continue  # nothing hangs there
                bar = parse_quantity("10 bar", Kind.PRESSURE)
                valve = RegisteredValve(next(ids), owner.id, f"S-{name}-{tag}", bar)
                work.add_all([valve, Installation(next(ids), valve.id, position.id, DAY)])
    yield store
    store.close()


def test_a_tag_gets_the_label_of_the_valve_that_hangs_there(place):
    pdf, count = make_labels(place, LabelWish(("psv-2",)), day=DAY)
    assert (count, len(pages(pdf))) == (1, 1)


def test_a_site_gets_all_its_labels(place):
    assert make_labels(place, LabelWish(site="north", roll=True), day=DAY)[1] == 2
    assert make_labels(place, LabelWish(site="South"), day=DAY)[1] == 1


@pytest.mark.parametrize(
    ("wish", "code"),
    [
        (LabelWish(("PSV-9",)), "LBL-002"),
        (LabelWish(("PSV-3",)), "LBL-002"),
        (LabelWish(("PSV-1",)), "LBL-003"),
        (LabelWish(("PSV-1",), site="West"), "LBL-002"),
    ],
)
def test_what_has_no_label_is_said(place, wish, code):
    with pytest.raises(FirstliftError, match=code):
        make_labels(place, wish, day=DAY)


def test_the_command_writes_the_file(place, tmp_path, capsys):
    out = tmp_path / "labels.pdf"
    told = ["--out", str(out), "--store", str(tmp_path / "register")]
    assert main(["label", "PSV-1", "--site", "North", *told]) == 0
    assert "1 label:" in capsys.readouterr().out
    assert out.read_bytes().startswith(b"%PDF")
    assert main(["label", *told]) == 2
    assert "LBL-005" in capsys.readouterr().err
