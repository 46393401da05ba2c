"""The papers of a job as pictures, against pictures kept from when somebody looked at them (tests/golden.py)."""

import dataclasses
import datetime as dt
from pathlib import Path

import pytest
from tests import golden

from firstlift.certificate.labels import Label, render_labels
from firstlift.certificate.papers.typeset import typeset_paper

from .test_typeset_papers import MAKERS

pdfium = pytest.importorskip("pypdfium2")

KEPT = Path(__file__).with_name("golden.npz")


@pytest.mark.parametrize("kind", MAKERS)
def test_papers_look_as_they_did(store, kind):
    # the footer names the release; a later one is no other picture
    paper = dataclasses.replace(MAKERS[kind](store), release="0.1.0")
    pages = golden.pages_of(typeset_paper(paper), pdfium)
    # the packet's cover, a valve's page and its cards; of the others the first two
    assert golden.compare(kind, pages[: 3 if kind == "packet" else 2], KEPT) == []


def test_labels_look_as_they_did():
    rows = (("serial", "SN-1"), ("set", "10 bar"))
    labels = [Label(f"PSV-{n}", rows, "boiler house", f"firstlift:valve/{n}", f"{n}") for n in range(1, 4)]
    pages = golden.pages_of(render_labels(labels, day=dt.date(2026, 5, 12)), pdfium)
    assert golden.compare("labels", pages, KEPT) == []


def test_a_row_more_or_a_table_that_moved_is_seen(store):
    paper = MAKERS["nonconformity"](store)
    first, *others = paper.sheets
    (as_kept, *_) = golden.pages_of(typeset_paper(paper), pdfium)
    for pieces in (first.pieces[:-3] + first.pieces[-2:], (*first.pieces[:3], first.pieces[4], *first.pieces[3:4])):
        changed = dataclasses.replace(paper, sheets=(dataclasses.replace(first, pieces=pieces), *others))
        (page, *_) = golden.pages_of(typeset_paper(changed), pdfium)
        assert golden.beyond(page, as_kept) > golden.MOST
