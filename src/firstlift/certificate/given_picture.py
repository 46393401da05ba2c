"""A logo or mark that an issuer gives: small, and a drawing only, before it goes to the typesetter.

A picture of a few bytes can unpack to more than memory holds, and a drawing can carry a program, reach for other files
or refer to itself without end. None of that belongs on a paper that says it can be relied on.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator, Mapping
from pathlib import Path
from xml.etree import ElementTree

from firstlift.core.errors import FirstliftError, Problem

LARGEST_BYTES = 500_000
_PNG = b"\x89PNG\r\n\x1a\n"
# four by six centimetres at 1200 dots an inch, and to spare
LARGEST_PIXELS = 16_000_000
_LARGEST_SIDE = 20_000
_POINTS = re.compile(r"url\(\s*['\"]?\s*#([^'\")\s]+)")
_SVG = "{http://www.w3.org/2000/svg}"
# what draws and nothing else; pictures within a picture, programs, movement, filters and foreign pages stay out
_DRAWS = frozenset(
    (
        *("svg", "g", "defs", "symbol", "use", "title", "desc", "metadata", "style", "switch", "clipPath", "mask"),
        *("path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan"),
        *("linearGradient", "radialGradient", "stop"),
    )
)
_GRADIENTS = (f"{_SVG}linearGradient", f"{_SVG}radialGradient")
_REACHES = re.compile(r"url\(\s*['\"]?\s*(?!#)|@import|expression\(|javascript:", re.IGNORECASE)


def read_picture(path: Path) -> tuple[bytes, str]:
    """Read a picture that an issuer names.

    Parameters
    ----------
    path : Path

    Returns
    -------
    data : bytes
    kind : str
        "png" or "svg".

    Raises
    ------
    FirstliftError
        CRT-004 it cannot be read, is too large, is neither, or is a drawing that does more than draw.
    """
    try:
        if not path.is_file():
            raise _refused("there is no such file", path)
        if path.stat().st_size > LARGEST_BYTES:
            raise _refused(f"it is larger than {LARGEST_BYTES // 1000} kB", path)
        data = path.read_bytes()
    except OSError as error:
        raise _refused(error.strerror or str(error), path) from error
    if data.startswith(_PNG):
        wrong, kind = next(_wrong_in_png(data), ""), "png"
    elif b"<svg" in data:
        wrong, kind = next(_wrong_in_svg(data), ""), "svg"
    else:
        wrong, kind = "it is no PNG or SVG", ""
    if wrong:
        raise _refused(wrong, path)
    return data, kind


def _wrong_in_png(data: bytes) -> Iterator[str]:
    if data[12:16] != b"IHDR" or len(data) < 33:
        yield "its head is damaged"
        return
    width, height = struct.unpack(">II", data[16:24])
    if not width or not height or max(width, height) > _LARGEST_SIDE or width * height > LARGEST_PIXELS:
        most = f"{LARGEST_PIXELS // 1_000_000} million in all and {_LARGEST_SIDE} a side"
        yield f"it is {width} by {height} pixels, where at most {most} are taken"


def _wrong_in_svg(data: bytes) -> Iterator[str]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        yield "its text is not UTF-8"
        return
    # entities are how a drawing grows without end or reads other files
    if "<!DOCTYPE" in text.upper() or "<!ENTITY" in text.upper():
        yield "it declares a document type or entities"
        return
    try:
        root = ElementTree.fromstring(text)
    except (ElementTree.ParseError, RecursionError, ValueError) as error:
        yield f"its XML is damaged: {error}"[:120]
        return
    if root.tag != f"{_SVG}svg":
        yield "its first element is no svg of the SVG namespace"
    for element in root.iter():
        yield from _wrong_in_element(element)
    yield from _wrong_references(root)


def _wrong_in_element(element: ElementTree.Element) -> Iterator[str]:
    name = str(element.tag)
    # other namespaces are a drawing program's own notes, which nothing draws
    if name.startswith(_SVG):
        name = name.removeprefix(_SVG)
        if name not in _DRAWS:
            yield f"it holds <{name[:40]}>: only drawing is taken"
    elif not name.startswith("{"):
        yield f"it holds <{name[:40]}> outside any namespace"
    for key, value in element.attrib.items():
        bare = key.rpartition("}")[2].lower()
        if bare.startswith("on"):
            yield f"it holds the attribute '{bare[:40]}', which runs something"
        if (bare in ("href", "src") and not value.strip().startswith("#")) or _REACHES.search(value):
            yield f"its attribute '{bare[:40]}' reaches for something outside"
    if name == "style" and _REACHES.search("".join(element.itertext())):
        yield "its style reaches for something outside"


def _wrong_references(root: ElementTree.Element) -> Iterator[str]:
    """Refuse a part that is used within a part that is used: ten such steps draw it ten thousand million times."""
    # a gradient may stand on another: that draws nothing more often
    named = {e.get("id"): e for e in root.iter() if e.get("id") and e.tag not in _GRADIENTS}
    for element in root.iter():
        for used in _used_by(element, named):
            if any(_used_by(inner, named) for inner in used.iter()):
                yield "it uses a part within a part that is used"


def _used_by(
    element: ElementTree.Element, named: Mapping[str | None, ElementTree.Element]
) -> list[ElementTree.Element]:
    words = " ".join(f"url({v})" if k.rpartition("}")[2] == "href" else v for k, v in element.attrib.items())
    return [named[name] for name in _POINTS.findall(words) if name in named]


def _refused(why: str, path: Path) -> FirstliftError:
    return FirstliftError(
        Problem(
            "CRT-004",
            f"a picture cannot be used: {why}",
            str(path),
            f"a PNG, or an SVG that only draws, up to {LARGEST_BYTES // 1000} kB",
            "See docs/certificate.md",
        )
    )
