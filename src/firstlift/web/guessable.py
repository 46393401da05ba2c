"""How many parts a password is made of, for somebody who tries what people choose: words, walks, runs, repeats.

A part is a word that people choose first, a walk over the keyboard, a run ("abcd", "4321"), a repeat, a date; any other
character is a part of its own. So "passwordpassword", "qwerty123456789" or "Football-2026-!!" have few parts, and five
uncommon words have many. The fewest parts are counted, by the usual dynamic programme.
"""

from __future__ import annotations

import functools
import itertools
import unicodedata
from collections.abc import Iterable
from importlib import resources

_ROWS = (
    "`1234567890-=", "qwertyuiop[]", "asdfghjkl;'", "zxcvbnm,./",
    "qwertzuiopü", "yxcvbnm", "azertyuiop", "qsdfghjklm", "wxcvbn",
    "йцукенгшщзхъ", "фывапролджэ", "ячсмитьбю",
)  # fmt: skip
# letters that are one key down or up from each other, as columns of the usual keyboard
_COLUMNS = ("1qaz", "2wsx", "3edc", "4rfv", "5tgb", "6yhn", "7ujm", "8ik,", "9ol.", "0p;/")
_LOOKS_LIKE = str.maketrans("@430$5!17+", "aaeossiltt")
_LONGEST_DATE = 8
_LEAST_RUN = 3


def parts_of(password: str, own: Iterable[str] = ()) -> int:
    """Count the fewest parts that a password can be made of.

    Parameters
    ----------
    password : str
    own : iterable of str
        Words that belong to the person, as their names.

    Returns
    -------
    int
    """
    text = unicodedata.normalize("NFKC", password).casefold()
    plain = text.translate(_LOOKS_LIKE)
    words = _common() | {word.casefold() for word in own if len(word) > 2}
    fewest = [0] * (len(text) + 1)
    for end in range(1, len(text) + 1):
        best = fewest[end - 1] + 1
        for start in range(end - 1):
            if fewest[start] > best:
                continue
            piece = text[start:end]
            if len(piece) >= _LEAST_RUN and piece in text[:start]:
                # said already: it costs nothing to say it again
                best = min(best, fewest[start])
            elif piece in words or plain[start:end] in words or _is_run(piece):
                best = min(best, fewest[start] + 1)
        fewest[end] = min(best, _between(text, fewest, end))
    block = (text + text).find(text, 1)
    # the same thing over and over is no more than that thing
    return fewest[-1] if block == len(text) else min(fewest[-1], block // 2)


def _between(text: str, fewest: list[int], end: int) -> int:
    """Let signs between parts, one after each, count once in all."""
    sign = text[end - 1]
    if sign.isalnum() or text.count(sign) < 2 or sign not in text[: end - 1]:
        return fewest[end - 1] + 1
    return fewest[end - 1]


def _is_run(piece: str) -> bool:
    if len(piece) < _LEAST_RUN:
        return False
    if len(set(piece)) == 1 or (piece.isdecimal() and len(piece) <= _LONGEST_DATE):
        return True
    steps = {ord(after) - ord(before) for before, after in itertools.pairwise(piece)}
    return steps in ({1}, {-1}) or all(pair in _neighbours() for pair in itertools.pairwise(piece))


@functools.cache
def _neighbours() -> frozenset[tuple[str, str]]:
    """Give the pairs of keys that lie side by side, or one above the other."""
    pairs = {pair for row in (*_ROWS, *_COLUMNS) for pair in itertools.pairwise(row)}
    # a walk that turns at the end of a row or a column goes on at the next one's beginning or end
    for lines in (_ROWS[:4], _COLUMNS):
        for one, other in itertools.pairwise(lines):
            pairs |= {(one[-1], other[0]), (one[-1], other[-1]), (one[0], other[0])}
    # the zigzag between two rows: 1q2w3e, q1w2e3, and so on down
    for upper, lower in itertools.pairwise(_ROWS):
        keys = upper[1:] if upper is _ROWS[0] else upper
        for beside in (lower, lower[1:]):
            pairs |= set(zip(keys, beside, strict=False))
        pairs |= set(zip(keys[1:], lower, strict=False))
    return frozenset(pairs | {(after, before) for before, after in pairs} | {(key, key) for key, _ in pairs})


@functools.cache
def _common() -> frozenset[str]:
    text = resources.files("firstlift.web").joinpath("guessable.txt").read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return frozenset(word for line in lines for word in line.split())
