"""The papers as PDF/A-3b: marks, sizes, one page a valve, hostile text as text, the same bytes again."""

import dataclasses
import datetime as dt
import io

import pikepdf
import pypdfium2 as pdfium
import pytest

from firstlift.certificate.papers.typeset import typeset_paper
from firstlift.core.errors import FirstliftError
from firstlift.usecases.visitpapers import make
from firstlift.usecases.visitpapers.planning import PlanningAsked, make_planning
from firstlift.usecases.visitpapers.to_come import PacketAsked

DAY = dt.date(2026, 5, 14)
PRINTING = make.printing_of(DAY, draft=True)
MAKERS = {
    "packet": lambda store: make.make_packet(store, "May round", PacketAsked(line_share="80 %"), PRINTING, cards=True),
    "visit": lambda store: make.make_visit(store, "May round", PRINTING),
    "nonconformity": lambda store: make.make_nonconformity(store, "May round", (), PRINTING),
    "return": lambda store: make.make_return(store, "May round", (), PRINTING),
    "planning": lambda store: make_planning(store, PlanningAsked(), PRINTING),
}


def opened(data):
    return pikepdf.open(io.BytesIO(data))


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize(("paper", "size"), [("a4", (595.28, 841.89)), ("us-letter", (612, 792))])
def test_marks_of_pdf_a_and_size(store, kind, paper, size):
    made = dataclasses.replace(MAKERS[kind](store), paper=paper)
    data = typeset_paper(made)
    with opened(data) as pdf:
        with pdf.open_metadata() as xmp:
            assert (xmp["pdfaid:part"], xmp["pdfaid:conformance"]) == ("3", "B")
            assert xmp["dc:title"] == f"{made.title} {made.subject}"
        assert pdf.Root.OutputIntents[0].S == "/GTS_PDFA1"
        assert "/OpenAction" not in pdf.Root
        for page in pdf.pages:
            assert [float(v) for v in page.MediaBox][2:] == pytest.approx(size, abs=0.01)
        if kind not in ("visit", "planning"):
            assert len(pdf.pages) == len(made.sheets)  # a page a valve
    assert data == typeset_paper(made)
    with pdfium.PdfDocument(data) as pdf:
        assert ["DRAFT" in "".join(page.get_textpage().get_text_range().split()) for page in pdf] == [True] * len(pdf)


def with_tag(paper, text):
    return dataclasses.replace(
        paper, subject=text, sheets=tuple(dataclasses.replace(sheet, title=text, above=text) for sheet in paper.sheets)
    )


@pytest.mark.parametrize("kind", ["packet", "nonconformity", "return"])
def test_long_text_is_printed_on_one_page(store, kind):
    made = MAKERS[kind](store)
    for text in ("PSV-" + "X9" * 28, "wide " * 40):
        with opened(typeset_paper(with_tag(made, text))) as pdf:
            assert len(pdf.pages) == len(made.sheets)


@pytest.mark.parametrize(
    ("text", "code"), [("PSV \U0001f600", "CRT-001"), ("a\u202eb", "CRT-001"), ("o" * 4000, "CRT-002")]
)
def test_what_cannot_be_printed_is_refused(store, text, code):
    with pytest.raises(FirstliftError, match=code):
        typeset_paper(with_tag(MAKERS["visit"](store), text))
