"""The set pressure over the years: its words keep out of one another's way."""

import datetime as dt
import re

import pytest

from firstlift.figures import Past, draw_history

_TEXT = re.compile(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*font-size="([\d.]+)"[^>]*>([^<]+)</text>')


@pytest.mark.parametrize(
    "first", [dt.date(2022, 1, 2), dt.date(2022, 4, 30), dt.date(2022, 5, 2), dt.date(2022, 12, 30)]
)
@pytest.mark.parametrize("width", [360.0, 480.0])
def test_the_unit_stands_on_none_of_the_years(first, width):
    tests = [Past(first, 12.2, 0.1), Past(dt.date(2026, 3, 1), 12.4, 0.1)]
    svg = draw_history(tests, lower=11.8, upper=12.6, unit="bar", width=width)
    texts = [(float(x), float(y), float(size), words) for x, y, size, words in _TEXT.findall(svg)]
    (unit,) = [text for text in texts if text[3] == "bar"]
    years = [text for text in texts if re.fullmatch(r"20\d\d", text[3])]
    values = [text for text in texts if re.fullmatch(r"1\d(\.\d)?", text[3])]
    assert len(years) >= 4
    assert len(values) >= 3
    assert all(abs(text[1] - unit[1]) >= unit[2] for text in (*years, *values)), (unit, years, values)
