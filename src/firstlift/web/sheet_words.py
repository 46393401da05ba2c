"""What the app says of a spreadsheet, its rows and cells: the way out is what its own screen offers."""

from __future__ import annotations

import datetime as dt

from firstlift.formats.sheets.reason import Reason, Why
from firstlift.web.field_names import field_name
from firstlift.web.say import N_, _, comma, whole_runs
from firstlift.words.place import local_date

# the controls of the screen that settle a doubt, as they are labelled there
UNIT_CONTROL = N_("Set pressures without a unit are in")
DATES_CONTROL = N_("03/04/2026 is")
DECIMAL_CONTROL = N_("1,250 is")
WORDS_CONTROL = N_("What words of the sheet mean")
_CONTROLS = {
    Why.UNIT_MISSING: UNIT_CONTROL,
    Why.DATE_TWO_WAYS: DATES_CONTROL,
    Why.DECIMAL_TWO_WAYS: DECIMAL_CONTROL,
    Why.NO_CHOICE: WORDS_CONTROL,
}
SAID = {
    Why.FORMULA_WITHOUT_VALUE: N_("A formula without a value: open the workbook, let it compute, and save it."),
    Why.SPREADSHEET_ERROR: N_("An error of the spreadsheet: put the formula right, or type the value."),
    Why.TEXT_NOT_THERE: N_("Points to a text that the workbook does not hold: type it anew."),
    Why.TEXT_ENDLESS: N_("%(found)s characters in one cell: shorten the text."),
    Why.CELL_UNKNOWN: N_("A kind of cell that is not known here: type its value anew."),
    Why.NUMBER_IS_NONE: N_("Kept as a number, but it is none: type it anew."),
    Why.NUMBER_NOT_FINITE: N_("No finite number: type the value."),
    Why.DAY_NUMBER_IS_NONE: N_("Shown as a date, but it is no day of the calendar: type the date anew."),
    Why.DAY_NEVER_WAS: N_("There never was a 29 February 1900: type the date anew."),
    Why.MERGED_ACROSS: N_("Merged with cells of other columns: unmerge them."),
    Why.MISSING: N_("Empty, but needed: %(field)s."),
    Why.DIGITS_LOST: N_(
        "The spreadsheet lost the last digits of this long number: format the column as text and type it anew."
    ),
    Why.TEXT_BECAME_DATE: N_("The spreadsheet made a date of it: format the column as text and type it anew."),
    Why.TEXT_TURNED: N_("Holds hidden marks that turn the direction of text: type it anew."),
    Why.TEXT_CONTROLS: N_("Holds control characters: type it anew."),
    Why.TEXT_TOO_LONG: N_("%(found)s characters, at most %(most)s are taken: shorten the text."),
    Why.NO_CHOICE: N_("Not understood. Write one of: %(choices)s. Or say what it means, under “%(control)s”."),
    Why.DATE_IS_NONE: N_("Not a date: write one such as 2026-05-14."),
    Why.DATE_WITHOUT_DAY: N_("The day is missing: write day, month and year."),
    Why.DATE_SHORT_YEAR: N_("The year has two digits: write all four."),
    Why.DATE_TWO_WAYS: N_("The day or the month may come first: say which at “%(control)s”."),
    Why.DATE_NUMBER: N_("A number that stands for no day of our time: write a date such as 2026-05-14."),
    Why.DATE_NO_DAY: N_("There is no such day in the calendar."),
    Why.DATE_OUT_OF_YEARS: N_("Lies outside the years %(first)s to %(last)s."),
    Why.NUMBER_BECAME_DATE: N_(
        "The spreadsheet made a date of this number: format the column as number and type it anew."
    ),
    Why.NUMBER_IS_TRUTH: N_("True or false stands where a number is needed."),
    Why.NUMBER_NOT_ONE: N_("Not a number."),
    Why.NUMBER_BEYOND: N_("Beyond any quantity here: check the number."),
    Why.DECIMAL_TWO_WAYS: N_("The comma may part decimals or thousands: say which at “%(control)s”."),
    Why.NUMBER_WITH_UNIT: N_("Has a unit (%(unit)s) where a bare number is needed."),
    Why.MONTHS_OTHER_UNIT: N_("Has the unit %(unit)s: months or years are needed."),
    Why.MONTHS_OR_YEARS: N_("May be months or years: write [months] or [years] into the heading."),
    Why.MONTHS_OUT_OF_RANGE: N_("Not a whole number of months from 1 to %(most)s."),
    Why.UNIT_MISSING: N_("The unit is missing: write it behind the number or into the heading."),
    Why.UNIT_UNKNOWN: N_("The unit %(unit)s is not known."),
    Why.UNIT_OF_ANOTHER: N_("The unit %(unit)s does not measure what stands in this column."),
    Why.UNIT_ABSOLUTE: N_("%(unit)s is an absolute pressure: write the gauge pressure."),
    Why.UNIT_CONTRADICTS: N_("Says %(own)s, but the heading says %(headed)s."),
    Why.NOT_ABOVE_ZERO: N_("Must lie above 0."),
    Why.BELOW_LEAST: N_("Lies below %(least)s, which cannot be."),
    Why.BEYOND_ANY: N_("Larger than any there is: check the number and its unit."),
    Why.RANGE_HIGH_NOT_ABOVE: N_("The high end of the spring range must lie above its low end."),
    Why.EDGE_NOT_ABOVE_BORE: N_("The outer edge of the seat must be larger than its bore."),
    Why.SEAT_ONE_DIAMETER: N_("A seat needs both diameters: its bore and the outer edge of the contact."),
    Why.SEAT_NO_UNCERTAINTY: N_("A seat needs an uncertainty beside its diameters."),
    Why.TEST_NO_DATE: N_("The date of this test is missing."),
    Why.CALIBRATION_INCOMPLETE: N_("A calibration needs all three: number of the certificate, date and due date."),
    Why.CALIBRATION_DUE_BEFORE: N_("The due date must lie after the date of the calibration."),
    Why.NO_TIME_ZONE: N_("Not a time zone: write one such as Europe/Oslo."),
    Why.IN_THE_FUTURE: N_("Lies in the future."),
    Why.DOUBLE_ROW: N_("Stands in row %(row)s already."),
    Why.DOUBLE_ROW_OF_SHEET: N_("Stands in row %(row)s of the sheet %(sheet)s already."),
    Why.IN_REGISTER: N_("Is in the register already."),
    Why.COMMA_AS_IT_SHOWS: N_("Numbers under %(heading)s have a decimal comma, as they show."),
    Why.DAY_NUMBERS: N_("Numbers under %(heading)s are read as day numbers: 45292 is %(day)s."),
    Why.MACROS: N_("The workbook holds macros: they are not run."),
    Why.LINKS: N_(
        "The workbook links to other workbooks: the links are not followed, the values it holds itself are taken."
    ),
    Why.ZONE_UTC: N_("No time zone is stated for the site %(site)s: UTC is taken."),
    Why.LEFT_OUT_BY_MAPPING: N_("it was said to leave it out"),
    Why.HIDDEN: N_("it is hidden"),
    Why.NO_HEADINGS: N_("no headings were understood in it"),
}
# where a value is a word of ours, each has a sentence of its own: words are not put together
SAID_OF = {
    (Why.DATE_OTHER_HABIT, "day-first"): N_(
        "The dates of this column are read with the day first, and this one cannot be: write it such as 2026-05-14."
    ),
    (Why.DATE_OTHER_HABIT, "month-first"): N_(
        "The dates of this column are read with the month first, and this one cannot be: write it such as 2026-05-14."
    ),
    (Why.DECIMAL_OTHER_MARK, "comma"): N_("Does not fit the decimal comma of this column."),
    (Why.DECIMAL_OTHER_MARK, "point"): N_("Does not fit the decimal point of this column."),
    (Why.DATES_AS_THEY_SHOW, "day-first"): N_("Dates under %(heading)s are read with the day first, as they show."),
    (Why.DATES_AS_THEY_SHOW, "month-first"): N_("Dates under %(heading)s are read with the month first, as they show."),
    (Why.UNIT_MISSING, "set_pressure"): N_(
        "The unit is missing: write it behind the number or into the heading, or say it at “%(control)s”."
    ),
}


def sheet_says(reason: Reason) -> str:
    """Say a reason in the language of the place.

    Parameters
    ----------
    reason : Reason

    Returns
    -------
    str
    """
    values = dict(reason.values)
    kinds = (SAID_OF.get((reason.why, str(values.get(name)))) for name in ("habit", "mark", "field"))
    text = next((found for found in kinds if found), None) or SAID[reason.why]
    if "choices" in values:
        values["choices"] = comma().join(str(values["choices"]).split(", "))
    if "field" in values:
        values["field"] = field_name(str(values["field"]))
    if reason.why in _CONTROLS:
        values["control"] = _(_CONTROLS[reason.why])
    if reason.why is Why.DAY_NUMBERS:
        values["day"] = local_date(dt.date(2024, 1, 1))
    return whole_runs(_(text, **values))
