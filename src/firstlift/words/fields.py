"""From a finding's typed parameters to words: each parameter is printed by the unit its name ends in."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal

from firstlift.words import numbers, phrases_en, planning_en
from firstlift.words.catalogue import in_language, plural
from firstlift.words.paper_en import WORDS
from firstlift.words.place import local

Value = float | int | str | bool | None

# parameters whose values are words of ours, with the tables that have them
_WORDS_OF = {
    "part": ("planning.part",),
    "found": ("planning.category", "planning.found"),
    "reason": ("planning.untold",),
    "source_status": ("phrase.source",),
}
_OPTIONAL = re.compile(r"\[([^\[\]]*)\]")
_FIELD = re.compile(r"\{(\w+)\}")
_BY_SUFFIX: tuple[tuple[str, Callable[[float], str]], ...] = (
    ("_n_per_m", lambda v: numbers.format_short(v, "N/mm")),
    ("_pa_per_s", lambda v: f"{numbers.format_short(v, 'kPa')}/s"),
    ("_n_per_s", lambda v: f"{numbers.format_short(v, 'N')}/s"),
    ("_n", numbers.format_force),
    ("_m2", lambda v: numbers.format_short(v, "mm2", digits=4)),
    ("_m", numbers.format_length),
    ("_ms", lambda v: local(f"{v:.3g} ms")),
    ("_s", lambda v: numbers.format_time(v) if abs(v) >= 0.1 else numbers.format_short(v, "ms", digits=2)),
    ("_hz", lambda v: numbers.format_short(v, "Hz")),
    ("_k", lambda v: local(f"{v - 273.15:.1f} °C")),
    ("_share", numbers.format_share),
    ("_relative", numbers.format_share),
    ("_probability", numbers.format_probability),
    ("_percent", lambda v: local(f"{v:.3g} %")),
    ("_ratio", lambda v: local(f"{v:.3g}")),
)
_DIFFERENCES = ("uncertainty", "spread", "tolerance", "change", "distance", "slope", "friction")
_ENDINGS = ("_n_per_m", "_pa_per_s", "_n_per_s", "_pa", *(suffix for suffix, _ in _BY_SUFFIX))


def show(name: str, value: Value, pressure_unit: str, *, language: str = "en") -> str:
    """Print one parameter by the unit its name ends in.

    Parameters
    ----------
    name : str
        Such as "shift_n", "at_s", "set_pressure_pa", "channel".
    value : number, str or bool
        SI.
    pressure_unit : str
        Unit for pressures.
    language : str
        Of the words "yes" and "no"; numbers are written as in the block of `written_in` around it.

    Returns
    -------
    str
    """
    if isinstance(value, bool):
        word = "yes" if value else "no"
        return in_language(word, WORDS[word], language)
    if value is None:
        return "–"
    if isinstance(value, str):
        return _word(name, value, language) or "–"
    if name.endswith("_yr"):
        return counted("years", Decimal(f"{value:.1f}"), language=language)
    if name.endswith("_pa"):
        # a pressure keeps its zeros, a difference or an uncertainty is said short
        whole = not any(part in name for part in _DIFFERENCES)
        return numbers.format_value(value, pressure_unit) if whole else numbers.format_short(value, pressure_unit)
    for suffix, print_it in _BY_SUFFIX:
        if name.endswith(suffix) and not isinstance(value, str):
            return print_it(float(value))
    return str(value) if isinstance(value, int) else local(f"{value:.4g}")


def _word(name: str, value: str, language: str) -> str:
    """Give a parameter that is a word of ours in the language; names and whatever else stay as they are."""
    if language == "en":
        return value
    if name == "parts":
        return listed([_word("part", part, language) for part in value.split(", ")], language=language)
    for place in _WORDS_OF.get(name, ()):
        kind, table = place.split(".")
        words = (phrases_en.TABLES if kind == "phrase" else planning_en.TABLES)[table]
        if value in words:
            return in_language(f"{place}.{value}", words[value], language)
    return value


def listed(parts: Iterable[str], *, language: str = "en") -> str:
    """Give words one after the other, with the comma of the language.

    Parameters
    ----------
    parts : iterable of str
        Empty ones are left out.
    language : str

    Returns
    -------
    str
    """
    return in_language("job.comma", WORDS["job.comma"], language).join(filter(None, parts))


def counted(noun: str, number: Decimal, *, language: str = "en") -> str:
    """Print a number with its noun in the form that the number asks for.

    Parameters
    ----------
    noun : str
        A key of `firstlift.words.phrases_en.COUNTED`.
    number : Decimal
        Printed with the decimals it has.
    language : str

    Returns
    -------
    str
        "2.5 years"; in Polish "2,5 roku".
    """
    return f"{local(str(number))} {noun_for(noun, number, language=language)}"


def noun_for(noun: str, number: Decimal, *, language: str = "en") -> str:
    """Give a noun in the form that a number before it asks for.

    Parameters
    ----------
    noun : str
        A key of `firstlift.words.phrases_en.COUNTED`.
    number : Decimal
    language : str

    Returns
    -------
    str
    """
    form = plural(number, language)
    one, other = phrases_en.COUNTED[noun]
    return in_language(f"count.{noun}.{form}", one if form == "one" else other, language)


def fill(template: str, parameters: Mapping[str, Value], pressure_unit: str, *, language: str = "en") -> str:
    """Fill a sentence's fields; a part in square brackets goes where one of its fields is missing.

    What the sentence has no field for is added at its end, so that no value of a finding is lost.

    Parameters
    ----------
    template : str
        "The slack reading moved[ by {shift_n}]."
    parameters : mapping
    pressure_unit : str
        Unit for pressures.
    language : str
        Of the words "yes" and "no"; numbers are written as in the block of `written_in` around it.

    Returns
    -------
    str
    """
    known = {name: value for name, value in parameters.items() if value is not None}
    used: set[str] = set()

    def put(match: re.Match[str]) -> str:
        used.add(match.group(1))
        return show(match.group(1), known[match.group(1)], pressure_unit, language=language)

    def part(match: re.Match[str]) -> str:
        names = _FIELD.findall(match.group(1))
        return _FIELD.sub(put, match.group(1)) if all(name in known for name in names) else ""

    # one pass over the template only: a value that holds brackets or braces is never read as a field
    text = _OPTIONAL.sub(part, template)
    rest = [
        f"{_label(name)} {show(name, value, pressure_unit, language=language)}"
        for name, value in known.items()
        if name not in used
    ]
    return f"{text.removesuffix('.')} ({', '.join(rest)})." if rest else text


def _label(name: str) -> str:
    for suffix in sorted(_ENDINGS, key=len, reverse=True):
        if name.endswith(suffix) and suffix not in ("_ratio", "_share", "_probability"):
            name = name.removesuffix(suffix)
            break
    return name.replace("_", " ")


def fields_of(template: str) -> tuple[set[str], set[str]]:
    """Give the names of a template's fields: those in brackets, and those outside (there should be none).

    Parameters
    ----------
    template : str

    Returns
    -------
    optional, bare : set of str
    """
    bare = set(_FIELD.findall(_OPTIONAL.sub("", template)))
    return set(_FIELD.findall(template)) - bare, bare
