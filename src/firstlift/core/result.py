"""The result of a test as frozen values, with one codec to and from JSON and one schema.

Field names are the JSON's keys; SI throughout, pressures gauge, times in seconds on the recording's own
clock. `to_json` and `from_json` are the only way in and out; `result_schema` gives the JSON Schema that is
published as docs/schema/firstlift-result-1.schema.json.
"""

from __future__ import annotations

import dataclasses
import functools
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, cast

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity

FORMAT = "firstlift-result-1"
# the flag of a pull that a person took out of what counts
REJECTED = "pull-rejected"


class Outcome(StrEnum):
    """What the whole recording shows."""

    MEASURED = "measured"
    NOT_LIFTED = "not_lifted"
    UNUSABLE = "unusable"


class PullOutcome(StrEnum):
    """What one pull shows."""

    MEASURED = "measured"
    NOT_LIFTED = "not_lifted"
    UNUSABLE = "unusable"
    ALREADY_OPEN = "already_open"


class VerdictOutcome(StrEnum):
    """Set pressure against the code's limits."""

    WITHIN = "within"
    OUTSIDE = "outside"
    UNDECIDED = "undecided"


class DispositionOutcome(StrEnum):
    """What is to be done with the valve, apart from the set-pressure verdict."""

    FIT = "fit"
    FIT_WITH_RESTRICTION = "fit_with_restriction"
    UNFIT = "unfit"
    INOPERABLE = "inoperable"


@dataclass(frozen=True, slots=True)
class MethodRef:
    """Which method made the numbers: its id and its frozen parameters."""

    id: str
    parameters: Mapping[str, float | int | str | bool | None]


@dataclass(frozen=True, slots=True)
class RecordingRef:
    """Which recording the numbers came from."""

    sha256: str
    samples: int
    duration_s: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one kind of channel said about first lift: alone, and with what weight in the joint estimate."""

    channel: str
    first_lift_s: float | None
    standard_uncertainty_s: float | None
    weight: float


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A line or curve of the fit, ready to draw: points (time_s, value_si) of one channel.

    ``side`` is "before" or "after" first lift.
    """

    channel: str
    side: str
    time_s: tuple[float, ...]
    value_si: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Signature:
    """The valve's mechanical signature in one pull; null where the recording could not show it."""

    stiff_slope_n_per_m: float | None = None
    soft_slope_n_per_m: float | None = None
    opening_force_n: float | None = None
    closing_force_n: float | None = None
    friction_n: float | None = None
    play_m: float | None = None
    load_share: tuple[float, ...] = ()
    sound_before_lift_ratio: float | None = None
    largest_lift_m: float | None = None


@dataclass(frozen=True, slots=True)
class Pull:
    """One rise and release of the pulling force, and what it showed."""

    number: int
    outcome: PullOutcome
    start_s: float | None
    end_s: float | None
    first_lift_s: float | None = None
    first_lift_standard_uncertainty_s: float | None = None
    closure_s: float | None = None
    line_pressure_pa: float | None = None
    pull_force_n: float | None = None
    set_pressure_pa: float | None = None
    expanded_uncertainty_pa: float | None = None
    lower_bound_pa: float | None = None
    evidence: tuple[Evidence, ...] = ()
    accepted: bool = True
    flags: tuple[str, ...] = ()
    fit: tuple[FittedLine, ...] = ()
    signature: Signature = Signature()


@dataclass(frozen=True, slots=True)
class AsFound:
    """The first loading of the visit, whatever its outcome."""

    pull: int
    outcome: PullOutcome
    set_pressure_pa: float | None
    lower_bound_pa: float | None
    expanded_uncertainty_pa: float | None
    coverage_factor: float | None
    coverage_probability: float | None


@dataclass(frozen=True, slots=True)
class AsLeftPull:
    """One of the last consecutive openings."""

    pull: int
    set_pressure_pa: float
    expanded_uncertainty_pa: float


@dataclass(frozen=True, slots=True)
class AsLeft:
    """The last consecutive openings, and whether they drift."""

    pulls: tuple[AsLeftPull, ...]
    trend: bool


@dataclass(frozen=True, slots=True)
class Mean:
    """Mean over the pulls that gave a number: information, never what the verdict judges."""

    pulls: tuple[int, ...]
    set_pressure_pa: float
    repeatability_pa: float | None
    expanded_uncertainty_pa: float


@dataclass(frozen=True, slots=True)
class Verdict:
    """Set pressure against the code, by a stated decision rule."""

    judged: tuple[int, ...]
    code: str
    edition: str
    clause: str
    source_status: str
    definition: str
    lower_pa: float
    upper_pa: float
    decision: str
    decision_probability: float
    probability_within: float | None
    outcome: VerdictOutcome


@dataclass(frozen=True, slots=True)
class Disposition:
    """What is to be done with the valve, and why."""

    outcome: DispositionOutcome
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FindingText:
    """A finding with its sentence in the asked language."""

    code: str
    severity: Severity
    pull: int | None
    parameters: Mapping[str, float | int | str | bool | None]
    message: str
    advice: str


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One input of the judged value and what it adds, JCGM 100:2008 clause 5.

    ``common_to`` says what the line is shared with: "seat", "cell:<group>", "gauge:<name>" (" offset" behind it
    where the area was found with that instrument: the error that does not go with the reading), "setup", or
    "pull" where every pull has its own. ``degrees_of_freedom`` null means infinite.
    """

    quantity: str
    value: float
    unit: str
    standard_uncertainty: float
    distribution: str
    degrees_of_freedom: float | None
    sensitivity: float
    contribution_pa: float
    share: float
    common_to: str


@dataclass(frozen=True, slots=True)
class Result:
    """Everything a test says."""

    outcome: Outcome
    reason: str | None
    tag: str
    purpose: str
    method: MethodRef
    recording: RecordingRef
    pulls: tuple[Pull, ...]
    as_found: AsFound | None
    as_left: AsLeft | None
    mean: Mean | None
    verdict: Verdict | None
    disposition: Disposition
    findings: tuple[FindingText, ...]
    budget: tuple[BudgetLine, ...]
    format: str = FORMAT


@dataclass(frozen=True, slots=True)
class Worded:
    """Makes a finding's sentences; given by the shell, so that the core holds none."""

    message: Callable[[Finding], str]
    advice: Callable[[Finding], str]


def to_json(value: Any) -> Any:
    """Turn a result, or any part of one, into plain JSON values.

    Parameters
    ----------
    value : Any
        A dataclass of this module, or a plain value.

    Returns
    -------
    Any
        Dicts, lists, strings, numbers, booleans, None. No NaN and no infinity.

    Raises
    ------
    FirstliftError
        RES-001 a number is not finite.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        ordered = sorted(dataclasses.fields(value), key=lambda f: f.name != "format")
        return {field.name: to_json(getattr(value, field.name)) for field in ordered}
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, Mapping):
        return {str(key): to_json(item) for key, item in cast("Mapping[str, Any]", value).items()}
    if isinstance(value, (tuple, list)):
        return [to_json(item) for item in cast("Sequence[Any]", value)]
    if isinstance(value, float):
        value = float(value)
        if value != value or value in (float("inf"), float("-inf")):
            raise FirstliftError(Problem("RES-001", "a number of the result is not finite", needed="finite numbers"))
    return value


def from_json(data: Mapping[str, Any]) -> Result:
    """Read a result back.

    Parameters
    ----------
    data : mapping
        What `to_json` gave.

    Returns
    -------
    Result

    Raises
    ------
    FirstliftError
        RES-002 the format is not one this release knows; RES-003 a key is missing or has the wrong type.
    """
    if data.get("format") != FORMAT:
        raise FirstliftError(Problem("RES-002", f"result format {data.get('format')!r} is not known", needed=FORMAT))
    return _decode(Result, data, "result")


def _decode(kind: Any, data: Any, where: str) -> Any:
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        if data is None and type(None) in args:
            return None
        return _decode(next(a for a in args if a is not type(None)), data, where)
    if origin is tuple:
        if not isinstance(data, list):
            raise _wrong(where, "a list", data)
        items = enumerate(cast("list[Any]", data))
        return tuple(_decode(args[0], item, f"{where}[{index}]") for index, item in items)
    if origin is not None and issubclass(origin, Mapping):
        if not isinstance(data, Mapping):
            raise _wrong(where, "an object", data)
        return dict(cast("Mapping[str, Any]", data))
    if dataclasses.is_dataclass(kind):
        return _decode_dataclass(kind, data, where)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        if data not in list(kind):
            raise _wrong(where, f"one of {[str(member) for member in kind]}", data)
        return kind(data)
    if kind is float and isinstance(data, (int, float)) and not isinstance(data, bool):
        return float(data)
    if not isinstance(data, kind) or (kind is int and isinstance(data, bool)):
        raise _wrong(where, kind.__name__, data)
    return data


def _decode_dataclass(kind: Any, data: Any, where: str) -> Any:
    if not isinstance(data, Mapping):
        raise _wrong(where, "an object", data)
    found = cast("Mapping[str, Any]", data)
    hints = _hints(kind)
    names = {field.name for field in dataclasses.fields(kind)}
    if names != set(found):
        raise _wrong(where, f"the keys {sorted(names)}", sorted(found))
    return kind(**{name: _decode(hints[name], found[name], f"{where}.{name}") for name in names})


@functools.cache
def _hints(kind: type[Any]) -> Mapping[str, Any]:
    return typing.get_type_hints(kind)


def _wrong(where: str, needed: str, found: Any) -> FirstliftError:
    return FirstliftError(Problem("RES-003", f"a result cannot be read: found {found!r}"[:200], where, needed))


def result_schema() -> dict[str, Any]:
    """Give the JSON Schema (draft 2020-12) of a result, made from the dataclasses above.

    Returns
    -------
    dict
    """
    return schema_of(Result, FORMAT)


def schema_of(record: type[Any], title: str) -> dict[str, Any]:
    """Give the JSON Schema of a frozen record whose key "format" is its title.

    Parameters
    ----------
    record : type
        A dataclass.
    title : str

    Returns
    -------
    dict
    """
    definitions: dict[str, Any] = {}
    _schema(record, definitions)
    definitions[record.__name__]["properties"]["format"] = {"const": title}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        "$ref": f"#/$defs/{record.__name__}",
        "$defs": definitions,
    }


def record_from_json(record: type[Any], data: Mapping[str, Any], name: str) -> Any:
    """Read a frozen record back from what `to_json` gave, every key and type held.

    Parameters
    ----------
    record : type
        A dataclass.
    data : mapping
    name : str
        Said in the message.

    Returns
    -------
    record

    Raises
    ------
    FirstliftError
        RES-003 a key is missing or has the wrong type.
    """
    return _decode(record, data, name)


_PLAIN: dict[Any, dict[str, Any]] = {
    str: {"type": "string"},
    float: {"type": "number"},
    int: {"type": "integer"},
    bool: {"type": "boolean"},
    type(None): {"type": "null"},
}


def _schema(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if kind in _PLAIN:
        return dict(_PLAIN[kind])
    if origin in (types.UnionType, typing.Union):
        return {"anyOf": [_schema(arg, definitions) for arg in args]}
    if origin is tuple:
        return {"type": "array", "items": _schema(args[0], definitions)}
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _schema(args[1], definitions)}
    record = cast("type[Any]", kind)
    if issubclass(record, StrEnum):
        return {"enum": [str(member) for member in record]}
    name = record.__name__
    if name not in definitions:
        definitions[name] = {}
        hints = typing.get_type_hints(record)
        properties = {field.name: _schema(hints[field.name], definitions) for field in dataclasses.fields(record)}
        definitions[name] = {
            "type": "object",
            "properties": properties,
            "required": list(properties),
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{name}"}
