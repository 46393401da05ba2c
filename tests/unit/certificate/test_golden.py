"""Pages as pictures, against pictures kept from when somebody looked at them.

Kept small and grey, in golden.npz; after a change that is meant, look at the pages and write them anew with
`FIRSTLIFT_GOLDEN=write pytest tests/unit/certificate/test_golden.py`.
"""

import dataclasses
import os
from pathlib import Path

import numpy as np
import pytest

from firstlift.certificate import make_certificate
from firstlift.certificate.settings import PaperSettings

pdfium = pytest.importorskip("pypdfium2")

KEPT = Path(__file__).with_name("golden.npz")
SCALE = 0.45
BLOCK = 12
CODE = np.s_[30:75, -65:]
# renderers and their smoothing differ a little; a missing word changes a block of its size by 20 or more
LARGEST_MEAN, LARGEST_BLOCK = 1.5, 16.0


def paper(made, name):
    kind, _, options = name.partition("-")
    details = made.details
    if options == "draft-letter":
        details = dataclasses.replace(details, draft=True, settings=PaperSettings(paper="letter"))
    return make_certificate(made.job(), getattr(made, kind)(), made.traces(), details).pdf


def pages_of(data):
    """Give each page as grey values, white 255."""
    found = []
    with pdfium.PdfDocument(data) as document:
        for page in document:
            grey = page.render(scale=SCALE, grayscale=True).to_numpy()
            found.append(np.array(grey.reshape(grey.shape[0], -1)[:, : grey.shape[1]], dtype=np.int16))
    # the code changes with every byte that is certified
    found[0][CODE] = 255
    return found


def distance(page, kept):
    """Give the mean difference and that of the block that differs most."""
    if page.shape != kept.shape:
        return np.inf, np.inf
    difference = np.abs(page.astype(float) - kept)
    high, wide = (size // BLOCK * BLOCK for size in page.shape)
    moved = (page - kept).astype(float)[:high, :wide].reshape(high // BLOCK, BLOCK, wide // BLOCK, BLOCK)
    return float(difference.mean()), float(np.abs(moved.mean(axis=(1, 3))).max())


NAMES = ["result", "not_lifted", "many-draft-letter"]


@pytest.mark.parametrize("name", NAMES)
def test_pages_look_as_they_did(made, name):
    pages = pages_of(paper(made, name))
    if os.environ.get("FIRSTLIFT_GOLDEN") == "write":
        write(name, pages)
    with np.load(KEPT) as kept:
        assert kept[f"{name}.count"] == len(pages)
        found = [distance(page, kept[f"{name}.{index}"].astype(np.int16)) for index, page in enumerate(pages[:4])]
    assert [pair for pair in found if pair[0] > LARGEST_MEAN or pair[1] > LARGEST_BLOCK] == []


def write(name, pages):
    held = dict(np.load(KEPT)) if KEPT.exists() else {}
    held = {key: value for key, value in held.items() if not key.startswith(f"{name}.")}
    held |= {f"{name}.{index}": page.astype(np.uint8) for index, page in enumerate(pages[:4])}
    np.savez_compressed(KEPT, **held, **{f"{name}.count": np.array(len(pages))})


def test_a_word_that_is_missing_or_moved_is_seen(made):
    (page, *_) = pages_of(paper(made, "result"))
    gone, moved = page.copy(), np.roll(page, 3, axis=0)
    dark = np.argwhere(page < 100)
    y, x = dark[len(dark) // 2] // BLOCK * BLOCK
    gone[y : y + BLOCK, x : x + 2 * BLOCK] = 255
    assert distance(gone, page)[1] > LARGEST_BLOCK
    assert distance(moved, page)[0] > LARGEST_MEAN
    assert distance(page, page) == (0.0, 0.0)
