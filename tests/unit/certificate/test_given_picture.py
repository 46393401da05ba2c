"""Logos and marks: a drawing is taken, what does more than draw or unpacks without end is refused by name."""

import dataclasses
import os
import struct
import zlib

import pytest

from firstlift.certificate import make_certificate
from firstlift.certificate.given_picture import read_picture
from firstlift.certificate.settings import PaperSettings
from firstlift.core.errors import FirstliftError


def svg(inside, head=""):
    return (
        f'{head}<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'xmlns:pen="urn:drawing-program" width="40" height="10" viewBox="0 0 40 10">{inside}</svg>'
    ).encode()


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(width, height, rows=None):
    data = zlib.compress(bytes((width + 1) * height) if rows is None else rows, 9)
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


NESTED = "".join(
    f'<g id="p{n}">' + f'<use xlink:href="#p{n - 1}"/>' * 10 + "</g>" if n else '<path id="p0" d="M0 0h1"/>'
    for n in range(9)
)
MASKED = (
    '<mask id="a"><rect width="9" height="9" mask="url(#b)"/></mask><mask id="b"><rect width="9" height="9"/></mask>'
)
GOOD = {
    "plain.svg": svg('<title>Team</title><rect width="40" height="10" fill="#123456"/>'),
    "gradient.svg": svg(
        '<defs><linearGradient id="g"><stop offset="0" stop-color="#000"/></linearGradient>'
        '<linearGradient id="h" xlink:href="#g"/><path id="p" d="M0 0h9v9z" fill="url(#h)"/></defs>'
        '<style>.a{fill:#333}</style><use xlink:href="#p"/><metadata>notes</metadata><pen:note/>',
        head='<?xml version="1.0" encoding="UTF-8"?>\n<!-- drawn by hand -->\n',
    ),
    "plain.png": png(40, 10),
}
HOSTILE = {
    "script": svg("<script>alert(1)</script>"),
    "onload": svg('<rect width="4" height="4" onload="alert(1)"/>'),
    "foreign": svg("<foreignObject><p>x</p></foreignObject>"),
    "animate": svg('<rect width="4" height="4"><animate attributeName="x" to="9"/></rect>'),
    "picture": svg('<image href="data:image/png;base64,iVBORw0KGgo=" width="9" height="9"/>'),
    "file": svg('<use xlink:href="file:///etc/passwd#x"/>'),
    "web": svg('<use href="http://example.invalid/logo.svg#x"/>'),
    "fill": svg('<rect width="4" height="4" fill="url(http://example.invalid/a.svg#g)"/>'),
    "style": svg("<style>@import url(http://example.invalid/a.css);</style>"),
    "styled": svg('<rect width="4" height="4" style="fill:url(//example.invalid/a)"/>'),
    "entity": svg("<text>&x;</text>", head='<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'),
    "laughs": svg("<text>&b;</text>", head='<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'),
    "nested": svg(NESTED + '<use xlink:href="#p8"/>'),
    "masked": svg(MASKED + '<rect width="9" height="9" mask="url(#a)"/>'),
    "filter": svg('<filter id="f"><feGaussianBlur stdDeviation="9999"/></filter>'),
    "torn": svg("<rect")[:-8],
    "utf-16": svg("<script/>").decode().encode("utf-16"),
    "other": b"<html><body><svg></svg></body></html>",
    "bomb": png(30_000, 30_000, rows=b""),
    "long": png(60_000, 10, rows=b""),
    "none": png(0, 10, rows=b""),
    "head": b"\x89PNG\r\n\x1a\n broken and far too short to say how large it is",
    "text": b"no picture",
}


@pytest.mark.parametrize("name", GOOD)
def test_what_only_draws_is_taken_and_printed(made, tmp_path, name):
    (tmp_path / name).write_bytes(GOOD[name])
    data, kind = read_picture(tmp_path / name)
    assert (data, kind) == (GOOD[name], name.rpartition(".")[2])
    details = dataclasses.replace(made.details, settings=PaperSettings(logo=data, logo_format=kind))
    assert make_certificate(made.job(), made.result(), (), details).pdf.startswith(b"%PDF-1.7")


@pytest.mark.parametrize("name", HOSTILE)
def test_what_does_more_is_refused(tmp_path, name):
    (tmp_path / "logo").write_bytes(HOSTILE[name])
    with pytest.raises(FirstliftError, match="CRT-004 a picture cannot be used: ") as caught:
        read_picture(tmp_path / "logo")
    assert "a PNG, or an SVG that only draws" in str(caught.value)


def test_a_gigabyte_is_refused_unread(tmp_path):
    with (tmp_path / "logo.png").open("wb") as file:
        file.write(png(40, 10))
        file.truncate(1_000_000_000)
    with pytest.raises(FirstliftError, match="larger than 500 kB"):
        read_picture(tmp_path / "logo.png")


@pytest.mark.skipif(os.name == "nt", reason="there is no such device")
def test_what_never_ends_is_no_file(tmp_path):
    (tmp_path / "logo.png").symlink_to("/dev/zero")
    for name in ("logo.png", "", "missing.png"):
        with pytest.raises(FirstliftError, match="there is no such file"):
            read_picture(tmp_path / name)
