"""The progress bar: drawn where a person looks on, and nowhere else."""

import io
import sys

import pytest

from firstlift.cli.progress import Progress, bar


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "[............................]   0 %  0 rows"), (0.5, "[##############..............]  50 %  1,234 rows"),
     (1.7, "[############################] 100 %  9 rows")],
)  # fmt: skip
def test_the_bar_says_how_far_it_is(share, text):
    assert bar(share, {0.0: 0, 0.5: 1234}.get(share, 9), "rows") == text


def test_on_a_terminal_it_is_drawn_and_gone_at_the_end(monkeypatch):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with Progress("rows") as progress:
        progress(0.25, 100)
        progress(0.26, 101)
    drawn = screen.getvalue().split("\r")
    assert [line for line in drawn if line.strip()] == [bar(0.25, 100, "rows")]
    assert drawn[-2].strip() == drawn[-1].strip() == ""


def test_elsewhere_nothing_is_written(monkeypatch):
    screen = io.StringIO()
    monkeypatch.setattr(sys, "stderr", screen)
    with Progress("rows") as progress:
        progress(0.25, 100)
    assert screen.getvalue() == ""
