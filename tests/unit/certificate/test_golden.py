"""Certificates as pictures, against pictures kept from when somebody looked at them (tests/golden.py)."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from tests import golden

from firstlift.certificate import make_certificate
from firstlift.certificate.settings import PaperSettings

pdfium = pytest.importorskip("pypdfium2")

KEPT = Path(__file__).with_name("golden.npz")
# where the code stands, on either paper
CODE = np.s_[36:92, -80:]


def paper(made, name):
    kind, _, options = name.partition("-")
    details = made.details
    if options == "draft-letter":
        details = dataclasses.replace(details, draft=True, settings=PaperSettings(paper="letter"))
    return make_certificate(made.job(), getattr(made, kind)(), made.traces(), details).pdf


def pages_of(data, **drawing):
    found = golden.pages_of(data, pdfium, **drawing)
    # the code changes with every byte that is certified
    found[0][CODE] = 255
    return found


@pytest.fixture
def page(made):
    return pages_of(paper(made, "result"))[0]


@pytest.mark.parametrize("name", ["result", "not_lifted", "many-draft-letter"])
def test_pages_look_as_they_did(made, name):
    # of forty pulls the first pages: the later ones only repeat them
    assert golden.compare(name, pages_of(paper(made, name))[:3], KEPT) == []


def test_the_pictures_stay_small():
    assert sum(path.stat().st_size for path in KEPT.parents[1].glob("*/golden.npz")) < 300_000


def dark_rows(page):
    """Give the runs of rows that hold ink, each a line of text or a rule."""
    inked = np.flatnonzero((page < 200).sum(axis=1) > 3)
    return [run for run in np.split(inked, np.flatnonzero(np.diff(inked) > 1) + 1) if len(run)]


def test_half_a_pixel_and_another_smoothing_are_no_difference(made, page):
    data = paper(made, "result")
    # a thousandth larger: what stands at the page's end is drawn half a pixel lower
    for drawing in ({"scale": golden.SCALE * 1.001}, {"optimize_mode": "lcd"}, {"prefer_bgrx": True}):
        assert golden.beyond(pages_of(data, **drawing)[0], page) <= golden.MOST


def test_every_line_that_is_missing_is_seen(page):
    for run in dark_rows(page):
        gone = page.copy()
        gone[run[0] : run[-1] + 1] = 255
        assert golden.beyond(gone, page) > golden.MOST, run


@pytest.mark.parametrize(("down", "across"), [(2, 0), (-2, 0), (0, 2), (3, 3)])
def test_a_part_that_moved_by_two_pixels_is_seen(page, down, across):
    moved = page.copy()
    moved[120:220] = np.roll(page[118:222], (down, across), axis=(0, 1))[2:-2]
    assert golden.beyond(moved, page) > golden.MOST


def test_a_word_that_is_missing_is_seen(page):
    dark = np.argwhere(page[80:] < 100) + np.array([80, 0])
    for y, x in dark[:: len(dark) // 20]:
        gone = page.copy()
        gone[y - 4 : y + 4, max(0, x - 12) : x + 12] = 255
        assert golden.beyond(gone, page) > golden.MOST, (y, x)
