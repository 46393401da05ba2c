"""Pages as small grey pictures, held against pictures kept from when somebody looked at them.

A renderer draws the edge of a letter one grey or another, half a pixel here or there: that is let pass. Each pixel is
held to the range of the kept pixels around it, and the other way round, so that what moved by two pixels, is missing
or is new stands out. After a change that is meant, look at the pages and write the pictures anew:
`FIRSTLIFT_GOLDEN=write pytest tests/unit/certificate/test_golden.py tests/unit/papers/test_golden_papers.py`.
"""

import os

import numpy as np

SCALE = 0.55
# sixteen greys are enough to tell a line from none, and halve the file
STEP = 16
# greys beyond the neighbourhood's range, and how many such pixels a page may have
BEYOND, MOST = 32, 8


def pages_of(data, pdfium, scale=SCALE, **drawing):
    """Give each page of a PDF as grey values, white 255."""
    found = []
    with pdfium.PdfDocument(data) as document:
        for page in document:
            grey = page.render(scale=scale, grayscale=True, **drawing).to_numpy()
            found.append(np.array(grey.reshape(grey.shape[0], -1)[:, : grey.shape[1]], dtype=np.int16))
    return found


def _around(page):
    """Give the lowest and the highest value within a pixel of each."""
    wide = np.pad(page, 1, mode="edge")
    high, across = page.shape
    views = np.array([wide[y : y + high, x : x + across] for y in range(3) for x in range(3)])
    return views.min(axis=0), views.max(axis=0)


def beyond(page, kept):
    """Count the pixels of either page that lie beyond what the other has around them; every one where sizes differ."""
    if page.shape != kept.shape:
        return page.size
    count = 0
    for one, other in ((page, kept), (kept, page)):
        low, high = _around(other)
        count += int(np.sum((one < low - BEYOND) | (one > high + BEYOND)))
    return count


def compare(name, pages, place):
    """Give the pages that are not as kept, with the count of their pixels beyond; write them where that is asked."""
    if os.environ.get("FIRSTLIFT_GOLDEN") == "write":
        write(name, pages, place)
    with np.load(place) as kept:
        count = int(kept[f"{name}.count"])
        if count != len(pages):
            return [f"{len(pages)} pages where {count} were kept"]
        found = [(index, beyond(page, opened(kept[f"{name}.{index}"]))) for index, page in enumerate(pages)]
    return [f"page {index + 1}: {far} pixels" for index, far in found if far > MOST]


def opened(kept):
    """Give a kept page as grey values."""
    return kept.astype(np.int16) * STEP + STEP // 2


def write(name, pages, place):
    """Keep the pages under a name, in place of those kept before."""
    held = dict(np.load(place)) if place.exists() else {}
    held = {key: value for key, value in held.items() if not key.startswith(f"{name}.")}
    held |= {f"{name}.{index}": (page // STEP).astype(np.uint8) for index, page in enumerate(pages)}
    np.savez_compressed(place, **held, **{f"{name}.count": np.array(len(pages))})
