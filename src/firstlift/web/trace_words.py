"""What the traces say, for their script: the same keys and English as in ``static/charts_words.js``."""

from __future__ import annotations

from firstlift.web.say import N_, raw

WORDS = {
    "pull_force": N_("Pull force"),
    "spindle_lift": N_("Lift"),
    "acoustic": N_("Sound"),
    "line_pressure": N_("Line pressure"),
    "back_pressure": N_("Back pressure"),
    "temperature": N_("Temperature"),
    "bar": N_("Move about the traces"),
    "closer": N_("Closer"),
    "wider": N_("Wider"),
    "earlier": N_("Earlier"),
    "later": N_("Later"),
    "whole": N_("Whole recording"),
    "pull": N_("Pull {n}"),
    "nextLift": N_("Next first lift"),
    "setMark": N_("Set mark"),
    "play": N_("Play"),
    "pause": N_("Pause"),
    "replayNote": N_("Replay at the recording's own speed"),
    "cursor": N_("Cursor over the traces"),
    "from": N_("From"),
    "to": N_("to"),
    "every": N_("every sample is drawn"),
    "thinned": N_("each pixel shows the lowest and the highest of up to {n} samples"),
    "live": N_("replay, {s} s"),
    "channel": N_("Channel"),
    "atCursor": N_("At the cursor"),
    "atMark": N_("At the mark"),
    "difference": N_("Difference"),
    "range": N_("Lowest to highest in view"),
    "firstLift": N_("First lift by this channel, ± standard uncertainty"),
    "show": N_("Show {name}"),
    "time": N_("Time"),
    "gap": N_("gap"),
    "none": N_("gave none"),
    "together": N_("all cells together"),
    "table": N_("Values of the traces"),
    "markSet": N_("Mark set at {t} s"),
    "keys": N_("Keys"),
    "keyMove": N_("move the cursor by a point; with Shift by ten"),
    "keyZoom": N_("closer, wider"),
    "keyPan": N_("earlier, later by half a window"),
    "keyEnds": N_("cursor to the first, last point in view"),
    "keyLift": N_("to the next first lift, and back"),
    "keyMark": N_("set the mark here, to read differences from it"),
    "keyWhole": N_("the whole recording"),
    "keyDrag": N_("Drag over the traces to look closer; double-click for the whole recording."),
    "loading": N_("Reading the recording …"),
    "failed": N_("The traces cannot be shown: {what}."),
    "signedOut": N_("you are signed out; load the page again to sign in"),
    "again": N_("Try again"),
    "between": N_("; "),
    "ended": N_("The replay has ended."),
    "lost": N_("The connection to the app was lost."),
}


def trace_words() -> dict[str, str]:
    """Give the traces' words in the language of the place.

    Returns
    -------
    dict of key to words
    """
    return {key: raw(english) for key, english in WORDS.items()}
