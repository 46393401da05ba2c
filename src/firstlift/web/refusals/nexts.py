"""What to do next, where many refusals want the same."""

from __future__ import annotations

from firstlift.web.say import N_

NOTHING = ""
SHEET = N_("Correct the job sheet and bring it in again.")
RECORDING = N_("Export the recording once more from the logger and bring it in again.")
COLUMNS = N_("Check which column measures what, and in which unit.")
VALUE = N_("Correct the value and send it again.")
VALUES = N_("Check the values that were typed; the details below name the one.")
WITH_UNIT = N_("Type the number with its unit, such as 8.5 bar.")
AGAIN = N_("Try again in a moment.")
RELOAD = N_("Load the page again and repeat; somebody may have changed something meanwhile.")
KEEPER = N_("Tell whoever looks after this app's computer.")
OFFICE = N_("Ask the office.")
TABLE = N_("Correct the table and bring it in again.")
WORKBOOK = N_("Save it anew as a workbook (XLSX) or as CSV, and bring that in.")
SEARCH = N_("Search the register for it.")
SEAT = N_("Give the seat's measured diameters or its area, with uncertainty and source.")
PULLS = N_("Pull again at line pressures further apart, with the same setting and gear.")
RULES = N_("Check which code applies to this valve.")
