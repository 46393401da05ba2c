"""The published schema is the code's own, and holds for a result that uses every part."""

import dataclasses
import json
import types
import typing
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path

import jsonschema
import pytest

from firstlift.core.result import FORMAT, Result, result_schema, to_json

PAGE = Path(__file__).parents[2] / "docs" / "schema" / "firstlift-result-1.schema.json"
PUBLISHED = json.loads(PAGE.read_text(encoding="utf-8"))
PLAIN = {str: "text", float: 0.25, int: 2, bool: True, type(None): None}


def sample(kind):
    """Build a value of a type with every optional part there and one entry in every list."""
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if kind in PLAIN:
        return PLAIN[kind]
    if origin in (types.UnionType, typing.Union):
        return sample(next(arg for arg in args if arg is not type(None)))
    if origin is tuple:
        return (sample(args[0]),)
    if origin is not None and issubclass(origin, Mapping):
        return {"at_s": sample(args[1])}
    if issubclass(kind, StrEnum):
        return next(iter(kind))
    hints = typing.get_type_hints(kind)
    parts = {field.name: sample(hints[field.name]) for field in dataclasses.fields(kind)}
    return kind(**(parts | {"format": FORMAT} if kind is Result else parts))


def test_published_schema_is_the_codes_own():
    assert result_schema() == PUBLISHED


def test_published_schema_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(PUBLISHED)


def test_a_result_with_every_part_fits_the_schema():
    jsonschema.validate(to_json(sample(Result)), PUBLISHED)


@pytest.mark.parametrize("key", ["outcome", "method", "pulls", "findings", "budget"])
def test_a_result_without_a_key_does_not_fit(key):
    data = to_json(sample(Result))
    del data[key]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, PUBLISHED)


def test_a_result_with_a_foreign_key_does_not_fit():
    data = {**to_json(sample(Result)), "blowdown_pa": 1.0}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, PUBLISHED)
