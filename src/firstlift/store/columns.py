"""How an entry's fields become columns, and its plain values a row: one rule for every kind.

Instants are text in UTC (27 characters, sorting as instants do), quantities the text they were written with,
lists and parts of an entry JSON. So both engines hold the same digits, and a row gives back an equal entry.
"""

from __future__ import annotations

import datetime as dt
import functools
import types
import typing
from collections.abc import Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.codec import hints_of
from firstlift.core.units import Quantity

INSTANT_LENGTH = 27


def key_text(length: int) -> sa.types.TypeEngine[str]:
    """Give the type of a text that is searched and sorted by its bytes, the same on both engines.

    Parameters
    ----------
    length : int, [characters]

    Returns
    -------
    sqlalchemy type
    """
    return sa.String(length).with_variant(sa.String(length, collation="C"), "postgresql")


def bare_type(hint: Any) -> tuple[Any, bool]:
    """Give a field's type without None, and whether None is allowed.

    Parameters
    ----------
    hint : type

    Returns
    -------
    type, bool
    """
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        args = typing.get_args(hint)
        return next(a for a in args if a is not type(None)), type(None) in args
    return hint, False


def column_type(hint: Any) -> sa.types.TypeEngine[Any]:
    """Give the column type of a field.

    Parameters
    ----------
    hint : type
        Without None.

    Returns
    -------
    sqlalchemy type
    """
    plain: dict[Any, sa.types.TypeEngine[Any]] = {
        UUID: sa.Uuid(),
        str: sa.Text(),
        float: sa.Double(),
        int: sa.BigInteger(),
        bool: sa.Boolean(),
        dt.date: sa.Date(),
        dt.datetime: key_text(INSTANT_LENGTH),
        Quantity: sa.Text(),
        Decimal: sa.Text(),
    }
    if hint in plain:
        return plain[hint]
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return sa.String(40)
    return sa.JSON(none_as_null=True)


@functools.cache
def field_types(kind: type[Any]) -> Mapping[str, Any]:
    """Give each field's bare type.

    Parameters
    ----------
    kind : type

    Returns
    -------
    mapping of field name to type
    """
    return {name: bare_type(hint)[0] for name, hint in hints_of(kind).items()}


def row_of(kind: type[Any], plain: Mapping[str, Any]) -> dict[str, Any]:
    """Turn an entry's plain form into the values of its row.

    Parameters
    ----------
    kind : type
    plain : mapping

    Returns
    -------
    dict
    """
    row = dict(plain)
    for name, hint in field_types(kind).items():
        value = row[name]
        if value is None:
            continue
        if hint is UUID:
            row[name] = UUID(value)
        elif hint is dt.date:
            row[name] = dt.date.fromisoformat(value)
    return row


def plain_of_row(kind: type[Any], row: Mapping[str, Any]) -> dict[str, Any]:
    """Turn a row back into an entry's plain form.

    Parameters
    ----------
    kind : type
    row : mapping
        Of column name to value; columns that are no fields are left out.

    Returns
    -------
    dict
    """
    plain: dict[str, Any] = {}
    for name, hint in field_types(kind).items():
        value = row[name]
        if value is not None and hint is UUID:
            value = str(value)
        elif value is not None and hint is dt.date:
            value = value.isoformat()
        plain[name] = value
    return plain
