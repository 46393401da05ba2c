"""What the app calls the codes of the register: states, roles, reasons, sources."""

from __future__ import annotations

from firstlift.web.say import N_, _

# those of one kind only need no context: a word that means two things has two codes
_TERMS = {
    # verdicts
    "within": N_("within"),
    "outside": N_("outside"),
    "undecided": N_("undecided"),
    # states of a certificate
    "draft": N_("draft"),
    "reviewed": N_("reviewed"),
    "issued": N_("issued"),
    "superseded": N_("superseded"),
    "withdrawn": N_("withdrawn"),
    # its next steps
    "review": N_("review"),
    "issue": N_("issue"),
    # people
    "technician": N_("technician"),
    "reviewer": N_("reviewer"),
    "office": N_("office"),
    "reader": N_("reader"),
    "engineer": N_("engineer"),
    "planner": N_("planner"),
    "inspector": N_("inspector"),
    # findings
    "info": N_("info"),
    "warning": N_("warning"),
    "severe": N_("severe"),
    # why a valve was not tested
    "no-access": N_("no access"),
    "unsafe": N_("unsafe"),
    "line-pressure-too-low": N_("line pressure too low"),
    "refused": N_("refused"),
    "wrong-valve": N_("wrong valve"),
    "other": N_("other"),
    # where a seat area comes from
    "measured": N_("measured"),
    "maker": N_("maker's data"),
    "two-line-pressures": N_("two line pressures"),
    "bench-correlation": N_("bench correlation"),
    # media of a bench
    "air": N_("air"),
    "water": N_("water"),
    # changes in the chain
    "add": N_("added"),
    "change": N_("changed"),
    "erase-personal-data": N_("personal data erased"),
    # what a client may read
    "valves": N_("valves"),
    "results": N_("results"),
    "certificates": N_("certificates"),
    # what makes a group of valves
    "none": N_("one group"),
    "by-maker": N_("maker"),
    "type": N_("type"),
    "medium": N_("medium"),
    "unit": N_("plant unit"),
    # parts of a nameplate
    "serial": N_("serial"),
    "tag": N_("tag"),
    "spring-number": N_("spring number"),
    "set-pressure": N_("set pressure"),
    # looks
    "as-device": N_("as the device"),
    "day": N_("day"),
    "night": N_("night"),
    "contrast": N_("high contrast"),
}


def term(code: object) -> str:
    """Give the word for a code.

    Parameters
    ----------
    code : object

    Returns
    -------
    str
        The code itself, without its dashes, where it has no word.
    """
    known = str(code)
    return _(_TERMS[known]) if known in _TERMS else known.replace("-", " ").replace("_", " ")
