"""The PDF itself: marks of PDF/A-3b, attachments, fonts, text as data, sameness."""

import dataclasses
import io
import json
import re

import pikepdf
import pytest

from firstlift.certificate import CertificateDetails, render_certificate
from firstlift.certificate.typeset import LONGEST_TEXT
from firstlift.core.errors import FirstliftError
from firstlift.core.result import from_json


def render(made, result=None, job=None, traces=None, **more):
    given = made.traces() if traces is None else traces
    return render_certificate(job or made.job(), result or made.result(), given, made.details, **more)


def with_text(made, **fields):
    job = made.job()
    visit = {key: value for key, value in fields.items() if key in ("owner", "site", "technician")}
    valve = {key: value for key, value in fields.items() if key in ("tag", "serial", "maker", "model")}
    return dataclasses.replace(
        job, visit=dataclasses.replace(job.visit, **visit), valve=dataclasses.replace(job.valve, **valve)
    )


def opened(made, data):
    return pikepdf.open(io.BytesIO(data))


def glyph_map(font):
    """Read a font's ToUnicode map: code to text."""
    found = {}
    for block in re.findall(rb"beginbfchar(.*?)endbfchar", font.ToUnicode.read_bytes(), re.DOTALL):
        for code, text in re.findall(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", block):
            found[int(code, 16)] = bytes.fromhex(text.decode()).decode("utf-16-be")
    return found


def page_text(page):
    """Give the words of a page in drawing order, without spaces, which the typesetter leaves to positions."""
    pieces, font = [], {}

    def walk(stream, resources):
        nonlocal font
        for operands, operator in pikepdf.parse_content_stream(stream):
            name = str(operator)
            if name == "Tf":
                font = glyph_map(resources.Font[str(operands[0])])
            elif name in ("Tj", "TJ"):
                for part in operands[0] if name == "TJ" else [operands[0]]:
                    if isinstance(part, pikepdf.String):
                        raw = bytes(part)
                        pieces.extend(
                            font.get(int.from_bytes(raw[i : i + 2], "big"), "?") for i in range(0, len(raw), 2)
                        )
            elif name == "Do":
                form = resources.XObject[str(operands[0])]
                if form.Subtype == "/Form":
                    walk(form, form.get("/Resources", resources))

    walk(page, page.Resources)
    return re.sub(r"[\s\u200b]", "", "".join(pieces))


def whole_text(made, data):
    with opened(made, data) as pdf:
        return [page_text(page) for page in pdf.pages]


KINDS = ["result", "not_lifted", "unusable", "stayed_open", "outside", "as_left", "many"]


@pytest.mark.parametrize("kind", KINDS)
def test_marks_of_pdf_a(made, kind):
    with opened(made, render(made, getattr(made, kind)(), job_sheet='format = "firstlift-jobsheet-1"')) as pdf:
        with pdf.open_metadata() as xmp:
            assert (xmp["pdfaid:part"], xmp["pdfaid:conformance"]) == ("3", "B")
            assert xmp["dc:title"] == "Certificate of set-pressure test ML-2026-0042"
        assert "/ID" in pdf.trailer
        assert pdf.Root.OutputIntents[0].S == "/GTS_PDFA1"
        assert "/Encrypt" not in pdf.trailer
        assert "/OpenAction" not in pdf.Root
        assert "/JavaScript" not in pdf.Root.get("/Names", {})
        for page in pdf.pages:
            assert [float(v) for v in page.MediaBox] == pytest.approx([0, 0, 595.28, 841.89], abs=0.01)


def test_all_fonts_are_embedded(made):
    with opened(made, render(made)) as pdf:
        descriptors = [
            o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/Type") == "/FontDescriptor"
        ]
        assert len(descriptors) >= 3
        assert all(any(key in d for key in ("/FontFile2", "/FontFile3")) for d in descriptors)


def test_result_and_job_sheet_are_attached(made):
    sheet = 'format = "firstlift-jobsheet-1" # µ'
    with opened(made, render(made, job_sheet=sheet)) as pdf:
        files = {str(spec.UF): spec for spec in pdf.Root.AF}
        assert set(files) == {"manifest.json", "result.json", "jobsheet.toml", "seat.json"}
        assert (files["result.json"].AFRelationship, files["jobsheet.toml"].AFRelationship) == ("/Data", "/Source")
        assert files["result.json"].EF.F.Subtype == "/application/json"
        assert files["jobsheet.toml"].EF.F.read_bytes().decode() == sheet
        assert from_json(json.loads(files["result.json"].EF.F.read_bytes())) == made.result()
    with opened(made, render(made)) as pdf:
        assert [str(spec.UF) for spec in pdf.Root.AF] == ["manifest.json", "result.json", "seat.json"]


def test_same_input_same_bytes(made):
    assert render(made, job_sheet="a = 1") == render(made, job_sheet="a = 1")
    assert render(made) != render(made, made.outside())


def test_date_is_the_date_of_the_test(made):
    with opened(made, render(made)) as pdf:
        assert str(pdf.docinfo["/CreationDate"]).startswith("D:20260512")


@pytest.mark.parametrize("kind", KINDS)
def test_every_page_carries_number_page_hash_and_mark(made, kind):
    pages = whole_text(made, render(made, getattr(made, kind)()))
    for index, text in enumerate(pages):
        assert "ML-2026-0042" in text
        assert f"page{index + 1}of{len(pages)}" in text
        assert made.sha[:16] in text
        assert "Demonstrationdata:inventedplant" in text
    assert sum(made.sha in text for text in pages) == 1
    assert "EndofcertificateML-2026-0042" in pages[-1]


def test_values_and_verdict_are_on_the_first_page(made):
    first = whole_text(made, render(made))[0]
    for words in ("10.020±0.056bar", "Withinthelimits", "Fitforservice", "k=2.02", "2013+A1:2016"):
        assert words in first
    first = whole_text(made, render(made, made.not_lifted()))[0]
    assert "Nosetpressure" in first
    assert "opensabove11.63bar" in first


@pytest.mark.parametrize(
    "hostile",
    [
        '#panic("no")',
        "$x^2$ *b* _i_ <lab> @ref // /* `raw` = h",
        "\\u{41} #{1+1} [#] {} \\",
        "\"quoted\" 'single' “curly”",
        "</svg><script>alert(1)</script>",
        "Żółć Ğüş Привет αβγ ≤ ≥ → ± Ω µ ° ½",
    ],
)
def test_markup_is_printed_as_it_stands(made, hostile):
    pages = whole_text(made, render(made, job=with_text(made, tag=hostile, owner=hostile)))
    wanted = re.sub(r"\s", "", hostile)
    assert wanted in pages[0]
    assert "Endofcertificate" in pages[-1]


def test_line_breaks_become_spaces(made):
    pages = whole_text(made, render(made, job=with_text(made, technician="one\ntwo\tthree")))
    assert "onetwothree" in pages[0]


@pytest.mark.parametrize(
    ("field", "hostile", "name"),
    [
        ("tag", "PSV \U0001f600", "grinning face"),
        ("owner", "汉字", "U+6C49"),
        ("technician", "a\x07b", "U+0007, control character"),
        ("technician", "a\x00b", "U+0000"),
        ("site", "a\x85b", "U+0085"),
        ("site", "abc\u202etxt", "right-to-left override"),
        ("site", "PSV\u200b-1", "zero width space"),
        ("maker", "\ud800", "U+D800"),
        ("model", "\ue000", "U+E000"),
    ],
)
def test_a_character_that_cannot_be_printed_is_named(made, field, hostile, name):
    with pytest.raises(FirstliftError, match="CRT-001") as caught:
        render(made, job=with_text(made, **{field: hostile}))
    assert name in str(caught.value)
    assert "certificate" in str(caught.value)


def test_a_character_in_a_figure_is_named_too(made):
    traces = made.traces()
    twice = (dataclasses.replace(traces[0], label="cell \U0001f600"), dataclasses.replace(traces[0], label="b"))
    with pytest.raises(FirstliftError, match="grinning face"):
        render(made, traces=twice)
    with pytest.raises(FirstliftError, match="label of a trace"):
        render(made, traces=(dataclasses.replace(traces[0], label="\u202e"),))


def test_ten_thousand_characters_are_refused(made):
    with pytest.raises(FirstliftError, match=r"CRT-002 a text of 10000 characters .* 'Where, when and by whom'"):
        render(made, job=with_text(made, owner="o" * 10_000))


@pytest.mark.parametrize("text", ["W" * (LONGEST_TEXT - 100), "word " * 500, "PSV-" + "X9" * 60])
def test_long_text_stays_on_the_page(made, text):
    data = render(made, job=with_text(made, tag=text, owner=text, serial=text))
    assert text.replace(" ", "") in re.sub(r"page\d+of\d+", "", "".join(whole_text(made, data))) or len(text) > 1000
    assert_inside(made, data)


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_leaves_the_page(made, kind):
    assert_inside(made, render(made, getattr(made, kind)()))


def test_no_issuer_and_no_times(made):
    details = dataclasses.replace(made.details, issuer="")
    by_hand = made.pull(1, 5.0, 10.02e5, start_s=None, end_s=None, first_lift_s=None, closure_s=None, fit=())
    data = render_certificate(made.job(), made.result(pulls=(by_hand,)), made.traces(), details)
    first = whole_text(made, data)[0]
    assert "issued2026-05-14numberandsealSetpressureasfound" in first
    assert "Issuedbynotstated" in first


def test_long_number_and_issuer_stay_on_the_page(made):
    details = CertificateDetails("N" * 300, "I" * 400, made.details.issued_on, "0.1.0")
    assert_inside(made, render_certificate(made.job(), made.result(), (), details))


def assert_inside(made, data):
    """Hold every run of text, from its start to its end, to the page's margins."""
    with opened(made, data) as pdf:
        for page in pdf.pages:
            runs = text_runs(page)
            assert len(runs) > 10
            assert min(x for x, _, _ in runs) > 50.0
            assert max(end for _, _, end in runs) < 545.0
            assert min(y for _, y, _ in runs) > 25.0
            assert max(y for _, y, _ in runs) < 815.0


def glyph_widths(font):
    """Read a composite font's widths in thousandths: [first [w w w] first last w ...]."""
    widths, entries, at = {}, list(font.DescendantFonts[0].W), 0
    while at < len(entries):
        first = int(entries[at])
        if isinstance(entries[at + 1], pikepdf.Array):
            widths.update({first + k: float(w) for k, w in enumerate(entries[at + 1])})
            at += 2
        else:
            widths.update(dict.fromkeys(range(first, int(entries[at + 1]) + 1), float(entries[at + 2])))
            at += 3
    return widths


def run_length(part, widths):
    """Give the advance of one operand of TJ in thousandths of the font's size."""
    if not isinstance(part, pikepdf.String):
        return -float(part)
    raw = bytes(part)
    return sum(widths[int.from_bytes(raw[i : i + 2], "big")] for i in range(0, len(raw), 2))


def text_runs(page):
    """Give start x, y and end x of every run of text, following the drawing's own transformations."""
    found = []

    def walk(stream, resources, base):
        matrix, stack, text, widths, size = base, [], pikepdf.Matrix(), {}, 0.0
        for operands, operator in pikepdf.parse_content_stream(stream):
            name = str(operator)
            if name == "q":
                stack.append(matrix)
            elif name == "Q":
                matrix = stack.pop()
            elif name == "cm":
                matrix = pikepdf.Matrix(*map(float, operands)) @ matrix
            elif name == "BT":
                text = pikepdf.Matrix()
            elif name == "Tf":
                widths, size = glyph_widths(resources.Font[str(operands[0])]), float(operands[1])
            elif name == "Tm":
                text = pikepdf.Matrix(*map(float, operands))
            elif name in ("Tj", "TJ"):
                placed = text @ matrix
                length = sum(run_length(part, widths) for part in (operands[0] if name == "TJ" else operands))
                found.append((placed.e, placed.f, placed.e + placed.a * length * size / 1000.0))
            elif name == "Do":
                form = resources.XObject[str(operands[0])]
                if form.Subtype == "/Form":
                    own = pikepdf.Matrix(form.get("/Matrix", [1, 0, 0, 1, 0, 0]))
                    walk(form, form.get("/Resources", resources), own @ matrix)
            else:
                assert name not in ("Td", "TD", "T*", "'", '"'), "an operator this reading does not follow"

    walk(page, page.Resources, pikepdf.Matrix())
    return found
