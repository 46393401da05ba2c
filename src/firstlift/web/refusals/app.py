"""Refusals of the app itself: spreadsheets, forms, sign-in, the pocket calculation, files."""

from __future__ import annotations

from firstlift.web.refusals import nexts
from firstlift.web.say import N_

THE_APP = {
    "IMP-001": (N_("The spreadsheet cannot be read, or is empty."), nexts.WORKBOOK),
    "IMP-002": (N_("The file is no spreadsheet of a kind that is read here."), nexts.WORKBOOK),
    "IMP-003": (N_("The workbook is damaged."), nexts.WORKBOOK),
    "IMP-004": (N_("The spreadsheet is too large."), N_("Part it into several files.")),
    "IMP-005": (
        N_("The workbook is protected with a password."),
        N_("Save it without its password and bring that in."),
    ),
    "IMP-006": (N_("The sheet has more columns than are read."), N_("Take away columns that are not needed.")),
    "IMP-007": (
        N_("The CSV is not text in the encoding that was expected."),
        N_("Save it as a workbook (XLSX), or as CSV in UTF-8, and bring that in."),
    ),
    "IMP-008": (N_("The CSV cannot be read to its end."), nexts.WORKBOOK),
    "IMP-009": (N_("The saved order of columns cannot be used."), nexts.VALUES),
    "IMP-010": (
        N_("No sheet has headings that are understood."),
        N_("Put one heading over each column, in its first row."),
    ),
    "IMP-011": (N_("Two columns are understood as one and the same."), N_("Give each column a heading of its own.")),
    "IMP-012": (N_("A column that was named is not in the sheet."), nexts.TABLE),
    "IMP-013": (
        N_("A column that is needed is missing."),
        N_("Head a column so in the sheet; the owner and the site of all rows can also be said below."),
    ),
    "IMP-014": (
        N_("A column of numbers has no unit."),
        N_(
            "Write the unit into its heading, such as set pressure (bar); that of set pressures can also be said below."
        ),
    ),
    "IMP-015": (N_("A row cannot be taken."), nexts.TABLE),
    "IMP-016": (N_("Nothing was kept, because rows cannot be taken."), nexts.TABLE),
    "WEB-001": (N_("Name and password do not fit."), N_("Both as they were given to you.")),
    "WEB-002": (N_("There were too many tries to sign in."), N_("Wait as long as is said below, then try again.")),
    "WEB-003": (N_("This is not allowed, by your role or by the rules for sign-ins."), nexts.OFFICE),
    "WEB-004": (
        N_("The form did not come from an open page of this app, or its page was too old; nothing was changed."),
        N_("Go back, load the page again and repeat."),
    ),
    "WEB-005": (N_("What was asked for is not here."), N_("Go to Today, or search the register.")),
    "WEB-006": (N_("This password cannot be used."), N_("Choose a longer one that nobody guesses, and a new one.")),
    "WEB-009": (N_("Something in the form or the address is missing, does not fit or cannot be read."), nexts.VALUES),
    "WEB-010": (N_("Too much was sent in one go."), N_("Send less at a time.")),
    "USE-001": (
        N_("An error nobody foresaw; nothing was left half-written."),
        N_("Try again; if it comes back, tell whoever looks after this app's computer what you did."),
    ),
    "USE-003": (N_("Choices were made that do not go together."), nexts.VALUES),
    "USE-004": (N_("A standard uncertainty cannot lie below zero."), nexts.VALUE),
    "USE-005": (N_("A file that should hold a result or a plan cannot be read."), nexts.KEEPER),
    "QCK-001": (N_("A value is below what is possible."), nexts.VALUE),
    "QCK-002": (N_("The seat is not given in exactly one way."), N_("Give its diameter or its area, one of the two.")),
    "OUT-001": (N_("A file cannot be written."), nexts.KEEPER),
}
