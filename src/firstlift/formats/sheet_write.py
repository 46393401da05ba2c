"""Write a job sheet: the TOML that `firstlift.formats.jobsheet` reads, from its tables."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from typing import Any


def write_sheet(document: Mapping[str, Any]) -> str:
    """Write the tables of a job sheet as TOML.

    Parameters
    ----------
    document : mapping
        Keys of the top, tables, and lists of tables.

    Returns
    -------
    str
    """
    lines = [f"{key} = {_value(value)}" for key, value in document.items() if not _is_table(value)]
    for key, value in document.items():
        if isinstance(value, Mapping):
            lines += ["", f"[{key}]", *_pairs(value)]
        elif _is_table(value):
            for table in value:
                lines += ["", f"[[{key}]]", *_pairs(table)]
    return "\n".join(lines) + "\n"


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(item, Mapping) for item in value)
    )


def _pairs(table: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in table.items()]


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, (dt.datetime, dt.date)):
        return value.isoformat()
    if isinstance(value, list):
        return f"[{', '.join(_value(item) for item in value)}]"
    # a JSON string is a TOML string, but for DEL, which JSON leaves as it is
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007F")
