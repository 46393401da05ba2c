"""What an HDF5 data set says about itself in attributes: unit, names of columns, sampling step, start."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from firstlift.core.errors import FirstliftError
from firstlift.core.units import Kind, parse_quantity
from firstlift.formats.seam import FOREIGN, even_step

if TYPE_CHECKING:
    import h5py

_UNITS = ("unit", "units", "unit_string", "unit_symbol", "ni_unitdescription")
_NAMES = ("columns", "column_names", "channels", "channel_names", "names", "labels")
_STEPS = (
    "dt", "dt_s", "wf_increment", "sampling_interval", "sampling_interval_s", "sample_interval", "sampling_step",
    "time_step", "delta_t", "delta_x",
)  # fmt: skip
_RATES = (
    "sample_rate", "sample_rate_hz", "sampling_rate", "sampling_rate_hz", "samplerate", "sampling_frequency",
    "sample_frequency", "fs", "fs_hz", "rate_hz",
)  # fmt: skip
_OFFSETS = ("t0", "t0_s", "wf_start_offset", "start_offset", "time_offset", "x0")
_STARTS = ("wf_start_time", "start_time", "started_at")
_AGREE = 1e-3
_MOST_OFFSET_S = 1e12


class Attributes:
    """The attributes of a data set by their names in small letters; those of its groups count for time."""

    def __init__(self, data: h5py.Dataset) -> None:
        self.own = _read(data)
        self.above: list[dict[str, Any]] = []
        self.is_table = data.dtype.names is not None
        path = (data.name or "/").rstrip("/")
        while path:
            path = path.rpartition("/")[0]
            self.above.append(_read(data.file[path or "/"]))

    def unit_of(self, column: int) -> str | None:
        """Give the unit of a column (0 where there is one only), or None."""
        for key in _UNITS:
            value = self.own.get(key)
            if isinstance(value, list):
                value = value[column] if column < len(value) else None
            elif self.is_table:
                value = None  # one unit for a table of force, pressure and time says nothing
            if isinstance(value, str) and value.strip():
                return value.strip()
        return None

    def names(self, count: int) -> list[str] | None:
        """Give the names of ``count`` columns, or None."""
        for key in _NAMES:
            value = self.own.get(key)
            if isinstance(value, list) and len(value) == count and all(isinstance(name, str) for name in value):
                return value
        return None

    def number(self, keys: Iterable[str], kind: Kind) -> float | None:
        """Give the first of some attributes that holds a number, or a text with its unit; the nearest group's."""
        keys = tuple(keys)
        for level in (self.own, *self.above):
            for key in keys:
                value = _number(level.get(key), kind)
                if value is not None:
                    return value
        return None

    def start_s(self) -> float | None:
        """Give the instant of the first sample as seconds since 1970, or None."""
        for level in (self.own, *self.above):
            for key in _STARTS:
                value = _instant(level.get(key))
                if value is not None:
                    return value
        return None


def earliest_start(attributes: Iterable[Attributes]) -> float | None:
    """Give the earliest of the starts that data sets state, seconds since 1970, or None."""
    return min((start for own in attributes if (start := own.start_s()) is not None), default=None)


def time_base(own: Attributes, earliest_s: float | None) -> tuple[float | None, float]:
    """Give a data set's own even time base.

    Parameters
    ----------
    own : Attributes
    earliest_s : float or None
        The earliest start in the file: the zero of the recording's clock.

    Returns
    -------
    dt_s : float or None
        None where the file states none, or a step and a rate that contradict each other.
    t0_s : float
    """
    step = even_step(own.number(_STEPS, Kind.TIME))
    rate = own.number(_RATES, Kind.FREQUENCY)
    of_rate = even_step(1.0 / rate if rate else None)
    if step is not None and of_rate is not None and abs(step - of_rate) > _AGREE * step:
        return None, 0.0
    offset = own.number(_OFFSETS, Kind.TIME) or 0.0
    start = own.start_s()
    if start is not None and earliest_s is not None:
        offset += start - earliest_s
    return (step if step is not None else of_rate), offset if abs(offset) < _MOST_OFFSET_S else 0.0


def _read(item: h5py.Dataset | h5py.Group | h5py.Datatype) -> dict[str, Any]:
    """Read attributes as text, numbers and lists; what cannot be read is as good as not there."""
    found: dict[str, Any] = {}
    try:
        names = list(item.attrs)
    except FOREIGN:
        return found
    for name in names:
        try:
            found.setdefault(str(name).lower().strip(), _plain(item.attrs[name]))
        except FOREIGN:
            continue
    return found


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        listed = [_plain(entry) for entry in value.reshape(-1)[:10_000]]
        return listed[0] if len(listed) == 1 else listed
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace").rstrip("\0")
    return str(value) if isinstance(value, str) else value


def _number(value: Any, kind: Kind) -> float | None:
    if isinstance(value, str):
        try:
            return parse_quantity(value, kind).si
        except FirstliftError:
            pass
        try:
            value = float(value)
        except ValueError:
            return None
    if isinstance(value, (int, float, np.integer, np.floating)) and math.isfinite(value):
        return float(value)
    return None


def _instant(value: Any) -> float | None:
    if isinstance(value, str):
        try:
            stamp = dt.datetime.fromisoformat(value.strip())
        except ValueError:
            return None
        # a stamp without zone is only compared with others of the same file
        return (stamp if stamp.tzinfo else stamp.replace(tzinfo=dt.UTC)).timestamp()
    return _number(value, Kind.TIME)
