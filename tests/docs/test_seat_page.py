"""docs/seat.md names every source, option and column there is, and its orders can be given."""

import re
import shlex
from pathlib import Path

import pytest

from firstlift.cli.main import build_parser
from firstlift.core.seat.record import Source
from firstlift.formats.seat_table import COLUMNS

PAGE = (Path(__file__).parents[2] / "docs" / "seat.md").read_text(encoding="utf-8")


def test_every_source_and_column_is_named():
    assert [str(word) for word in (*Source, *COLUMNS) if f"`{word}`" not in PAGE] == []


ORDERS = re.findall(r"^firstlift .+$", PAGE, re.MULTILINE) + re.findall(r"`(firstlift seat [^`]+)`", PAGE)


@pytest.mark.parametrize("order", ORDERS)
def test_every_order_of_the_page_is_understood(order):
    arguments = build_parser().parse_args(shlex.split(order)[1:])
    assert arguments.run.startswith("firstlift.cli.")


def test_orders_are_seen():
    assert len(ORDERS) >= 6
