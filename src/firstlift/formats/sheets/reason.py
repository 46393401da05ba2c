"""What can be said of a spreadsheet, its rows and its cells: a closed set, each with its named values.

A reason is a value, not a sentence: the command line says it in English (``reason_en.py``), the app in the language of
whoever looks (`firstlift.web.sheet_words`). A new one needs its words in both; the tests hold it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Why(StrEnum):
    """Why a cell, a row or a sheet is not taken, and what is good to know of one that is."""

    # a cell, whatever it is read as
    FORMULA_WITHOUT_VALUE = "formula-without-value"
    SPREADSHEET_ERROR = "spreadsheet-error"
    TEXT_NOT_THERE = "text-not-there"
    TEXT_ENDLESS = "text-endless"
    CELL_UNKNOWN = "cell-unknown"
    NUMBER_IS_NONE = "number-is-none"
    NUMBER_NOT_FINITE = "number-not-finite"
    DAY_NUMBER_IS_NONE = "day-number-is-none"
    DAY_NEVER_WAS = "day-never-was"
    MERGED_ACROSS = "merged-across"
    MISSING = "missing"
    # a text
    DIGITS_LOST = "digits-lost"
    TEXT_BECAME_DATE = "text-became-date"
    TEXT_TURNED = "text-turned"
    TEXT_CONTROLS = "text-controls"
    TEXT_TOO_LONG = "text-too-long"
    NO_CHOICE = "no-choice"
    # a date
    DATE_IS_NONE = "date-is-none"
    DATE_WITHOUT_DAY = "date-without-day"
    DATE_SHORT_YEAR = "date-short-year"
    DATE_TWO_WAYS = "date-two-ways"
    DATE_OTHER_HABIT = "date-other-habit"
    DATE_NUMBER = "date-number"
    DATE_NO_DAY = "date-no-day"
    DATE_OUT_OF_YEARS = "date-out-of-years"
    # a number
    NUMBER_BECAME_DATE = "number-became-date"
    NUMBER_IS_TRUTH = "number-is-truth"
    NUMBER_NOT_ONE = "number-not-one"
    NUMBER_BEYOND = "number-beyond"
    DECIMAL_TWO_WAYS = "decimal-two-ways"
    DECIMAL_OTHER_MARK = "decimal-other-mark"
    NUMBER_WITH_UNIT = "number-with-unit"
    MONTHS_OTHER_UNIT = "months-other-unit"
    MONTHS_OR_YEARS = "months-or-years"
    MONTHS_OUT_OF_RANGE = "months-out-of-range"
    # a quantity
    UNIT_MISSING = "unit-missing"
    UNIT_UNKNOWN = "unit-unknown"
    UNIT_OF_ANOTHER = "unit-of-another"
    UNIT_ABSOLUTE = "unit-absolute"
    UNIT_CONTRADICTS = "unit-contradicts"
    NOT_ABOVE_ZERO = "not-above-zero"
    BELOW_LEAST = "below-least"
    BEYOND_ANY = "beyond-any"
    # cells of a row that do not go together
    RANGE_HIGH_NOT_ABOVE = "range-high-not-above"
    EDGE_NOT_ABOVE_BORE = "edge-not-above-bore"
    SEAT_ONE_DIAMETER = "seat-one-diameter"
    SEAT_NO_UNCERTAINTY = "seat-no-uncertainty"
    TEST_NO_DATE = "test-no-date"
    CALIBRATION_INCOMPLETE = "calibration-incomplete"
    CALIBRATION_DUE_BEFORE = "calibration-due-before"
    # a row beside others, the register and the day
    NO_TIME_ZONE = "no-time-zone"
    IN_THE_FUTURE = "in-the-future"
    DOUBLE_ROW = "double-row"
    DOUBLE_ROW_OF_SHEET = "double-row-of-sheet"
    IN_REGISTER = "in-register"
    # good to know
    DATES_AS_THEY_SHOW = "dates-as-they-show"
    COMMA_AS_IT_SHOWS = "comma-as-it-shows"
    DAY_NUMBERS = "day-numbers"
    MACROS = "macros"
    LINKS = "links"
    ZONE_UTC = "zone-utc"
    # a sheet that is left out
    LEFT_OUT_BY_MAPPING = "left-out-by-mapping"
    HIDDEN = "hidden"
    NO_HEADINGS = "no-headings"


@dataclass(frozen=True, slots=True)
class Reason:
    """One of them with its values, by name; printed it is English, as the command line says it."""

    why: Why
    values: tuple[tuple[str, str | int], ...] = ()

    def __str__(self) -> str:
        from firstlift.formats.sheets.reason_en import WORDS

        return WORDS[self.why].format_map(dict(self.values))


def because(why: Why, **values: str | int) -> Reason:
    """Make a reason.

    Parameters
    ----------
    why : Why
    **values : str or int
        What its words name: units, words of the cell, limits, names of fields.

    Returns
    -------
    Reason
    """
    return Reason(why, tuple(sorted(values.items())))


class CannotBeTaken(Exception):  # noqa: N818  a reason, told with sheet, row and column
    """Why a cell cannot be taken."""

    def __init__(self, why: Why, **values: str | int) -> None:
        self.reason = because(why, **values)
        super().__init__(str(self.reason))
