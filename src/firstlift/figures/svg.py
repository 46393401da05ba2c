"""A small scene of lines, areas and words, and its SVG text: the same scene always gives the same bytes."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

FONT = "Libertinus Serif, Georgia, serif"
INK = "#16202a"
QUIET = "#6b7680"
FAINT = "#d5dade"
ACCENT = "#9c2f12"
WASH = "#f1ede4"

# where writing runs to the left, a number with its sign and unit, a name or a formula still runs to the right
_LEFTWARD = re.compile("[\u0600-\u06ff]")
_LETTER = r"[^\W_\u0600-\u06ff]"
_RIGHTWARD = re.compile(rf"(?:[<>±−+×][ \u00a0]?)?{_LETTER}(?:[^\u0600-\u06ff()\[\];«»]*(?:{_LETTER}|[%°²³…]))?")
# how wide a letter is, as a share of its size: of Latin and Greek, of Arabic, of Chinese
_CHINESE = 0x2E80
_BREADTHS = ((0x0600, 0.5), (_CHINESE, 0.62))
_WIDEST = 1.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line; ``dash`` in SVG's own form, empty for unbroken."""

    x1: float
    y1: float
    x2: float
    y2: float
    stroke: str = INK
    width: float = 0.6
    dash: str = ""


@dataclass(frozen=True, slots=True)
class Polyline:
    """A broken line through points; ``opacity`` from 0 to 1."""

    points: tuple[Point, ...]
    stroke: str = INK
    width: float = 0.8
    dash: str = ""
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed area."""

    points: tuple[Point, ...]
    fill: str = INK
    stroke: str = "none"
    width: float = 0.6


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle."""

    x: float
    y: float
    width: float
    height: float
    fill: str = "none"
    stroke: str = "none"
    line: float = 0.6


@dataclass(frozen=True, slots=True)
class Circle:
    """A ring or a dot."""

    x: float
    y: float
    radius: float
    fill: str = "#ffffff"
    stroke: str = INK
    line: float = 0.9


@dataclass(frozen=True, slots=True)
class Text:
    """Words at a point; ``anchor`` is start, middle or end; ``bold`` and ``italic`` as they say."""

    x: float
    y: float
    words: str
    size: float = 8.0
    anchor: str = "start"
    fill: str = INK
    bold: bool = False
    italic: bool = False


Shape = Line | Polyline | Polygon | Rect | Circle | Text


def number(value: float) -> str:
    """Print a coordinate with at most two decimals.

    Parameters
    ----------
    value : float

    Returns
    -------
    str
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def clean(words: str) -> str:
    """Replace what XML cannot hold (control characters, lone surrogates) by the replacement character.

    Parameters
    ----------
    words : str

    Returns
    -------
    str
    """
    return "".join(c if c >= " " and not "\ud800" <= c <= "\udfff" and c not in "\ufffe\uffff" else "�" for c in words)


def breadth(words: str, size: float) -> float:
    """Give about how wide words are drawn, rather more than less.

    Parameters
    ----------
    words : str
    size : float
        In points.

    Returns
    -------
    float
        In points.
    """
    shares = (next((share for end, share in _BREADTHS if ord(letter) < end), _WIDEST) for letter in words)
    return size * sum(shares)


def directed(words: str) -> str:
    """Give words with the marks that let Arabic run to the left, and what in it does not to the right.

    Parameters
    ----------
    words : str

    Returns
    -------
    str
        As they are where nothing runs to the left.
    """
    if _LEFTWARD.search(words) is None:
        return words
    isolated = _RIGHTWARD.sub(lambda run: f"\u2066{run.group(0)}\u2069", words)
    return f"\u2067{isolated}\u2069"


def shorten(words: str, longest: int) -> str:
    """Cut words to a length, with an ellipsis where something was cut.

    Parameters
    ----------
    words : str
    longest : int
        Characters, 2 or more.

    Returns
    -------
    str
    """
    return words if len(words) <= longest else words[: longest - 1].rstrip() + "…"


def render(width: float, height: float, shapes: Iterable[Shape], *, title: str) -> str:
    """Give the SVG text of a scene.

    Parameters
    ----------
    width, height : float
        In points; also the view box.
    shapes : iterable of Shape
        Drawn in order.
    title : str
        What the picture shows, for those who cannot see it.

    Returns
    -------
    str
        A whole SVG document; all words escaped.
    """
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" height="{number(height)}" '
        f'viewBox="0 0 {number(width)} {number(height)}" role="img" font-family={quoteattr(FONT)}>'
    )
    body = "\n".join(_element(shape) for shape in shapes)
    return f"{head}\n<title>{escape(clean(title))}</title>\n{body}\n</svg>\n"


def _stroke(stroke: str, width: float, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'stroke="{stroke}" stroke-width="{number(width)}"{dashes}'


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def _element(shape: Shape) -> str:
    match shape:
        case Line():
            ends = " ".join(f'{name}="{number(getattr(shape, name))}"' for name in ("x1", "y1", "x2", "y2"))
            return f"<line {ends} {_stroke(shape.stroke, shape.width, shape.dash)}/>"
        case Polyline():
            style = _stroke(shape.stroke, shape.width, shape.dash)
            style += "" if shape.opacity == 1.0 else f' stroke-opacity="{number(shape.opacity)}"'
            return f'<polyline points="{_points(shape.points)}" fill="none" stroke-linejoin="round" {style}/>'
        case Polygon():
            style = _stroke(shape.stroke, shape.width)
            return f'<polygon points="{_points(shape.points)}" fill="{shape.fill}" {style}/>'
        case Rect():
            place = f'x="{number(shape.x)}" y="{number(shape.y)}"'
            size = f'width="{number(shape.width)}" height="{number(shape.height)}"'
            return f'<rect {place} {size} fill="{shape.fill}" {_stroke(shape.stroke, shape.line)}/>'
        case Circle():
            place = f'cx="{number(shape.x)}" cy="{number(shape.y)}" r="{number(shape.radius)}"'
            return f'<circle {place} fill="{shape.fill}" {_stroke(shape.stroke, shape.line)}/>'
        case Text():
            return _text(shape)


def _text(text: Text) -> str:
    style = f'font-size="{number(text.size)}" text-anchor="{text.anchor}" fill="{text.fill}"'
    style += ' font-weight="bold"' if text.bold else ""
    style += ' font-style="italic"' if text.italic else ""
    if any(ord(letter) >= _CHINESE for letter in text.words):
        # of a font that holds every weight the typesetter draws the thinnest, unless it is told
        style += f""" font-variation-settings="'wght' {700 if text.bold else 400}\""""
    return f'<text x="{number(text.x)}" y="{number(text.y)}" {style}>{escape(directed(clean(text.words)))}</text>'
