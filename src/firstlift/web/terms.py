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
    # what each channel said of first lift
    "pull force": N_("pull force"),
    "lift": N_("lift"),
    # why a valve was not tested
    "no-access": N_("no access"),
    "unsafe": N_("unsafe"),
    "line-pressure-too-low": N_("line pressure too low"),
    "refused": N_("refused"),
    "wrong-valve": N_("wrong valve"),
    "other": N_("other"),
    # where a seat area comes from
    "measured": N_("measured"),
    "maker": N_("maker"),
    "two-line-pressures": N_("two line pressures"),
    "bench-correlation": N_("bench correlation"),
    # what is done to a seat
    "re-lapped": N_("re-lapped"),
    "re-machined": N_("re-machined"),
    "renewed": N_("seat or disc renewed"),
    # media of a bench
    "air": N_("air"),
    "water": N_("water"),
    # changes in the chain
    "add": N_("added"),
    "change": N_("changed"),
    "erase-personal-data": N_("personal data erased"),
    "did": N_("done"),
    # what was done to sign-ins, sessions, tokens and web-hooks
    "signed-in": N_("signed in"),
    "signed-out": N_("signed out"),
    "too-many-tries": N_("too many wrong passwords: the next try waits"),
    "session-ended": N_("ended a session"),
    "sessions-ended": N_("ended sessions"),
    "sign-in-given": N_("gave a sign-in"),
    "sign-in-taken": N_("took a sign-in away"),
    "password-changed": N_("changed their password"),
    "look-chosen": N_("chose how it looks"),
    "token-made": N_("made a token"),
    "token-ended": N_("ended a token"),
    "hook-made": N_("made a web-hook"),
    "hook-ended": N_("ended a web-hook"),
    "hook-gave-up": N_("gave up a message to a web-hook"),
    "chain-proved": N_("proved the chain"),
    # papers on their way
    "paper-to-send": N_("to be sent"),
    "paper-made-ready": N_("made ready for a mail program"),
    "paper-sent": N_("sent"),
    "paper-sent-by-hand": N_("sent by one's own mail program"),
    "paper-not-sent": N_("not sent"),
    "paper-maybe-sent": N_("perhaps sent: the server did not answer"),
    "paper-sending-stopped": N_("sending stopped"),
    "paper-to-send-again": N_("to be sent again"),
    "not-taken": N_("not taken"),
    "made": N_("being made ready"),
    "waiting": N_("waits"),
    "under-way": N_("under way"),
    "given": N_("under way"),
    "sent": N_("sent"),
    "unsure": N_("perhaps sent: the server did not answer"),
    "stopped": N_("stopped"),
    "ready": N_("ready to be taken"),
    "by-hand": N_("sent by one's own mail program"),
    # what the chain is asked for
    "group-sign-ins": N_("sign-ins and sessions"),
    "group-systems": N_("tokens and web-hooks"),
    "group-sent": N_("papers sent"),
    "group-proofs": N_("proofs of the chain"),
    "group-certificates": N_("certificates and kept files"),
    "group-tests": N_("tests, seats and adjustments"),
    "group-visits": N_("visits and what was confirmed"),
    "group-valves": N_("owners, sites and valves"),
    "group-instruments": N_("instruments"),
    "group-people": N_("people and contacts"),
    "kind-owner": N_("owner"),
    "kind-person": N_("person"),
    "kind-qualification": N_("qualification"),
    "kind-site": N_("site"),
    "kind-protected_system": N_("protected system"),
    "kind-position": N_("position"),
    "kind-interval": N_("interval"),
    "kind-rule_choice": N_("choice of rules"),
    "kind-valve": N_("valve"),
    "kind-installation": N_("installation"),
    "kind-instrument": N_("instrument"),
    "kind-calibration": N_("calibration"),
    "kind-seat_record": N_("seat record"),
    "kind-visit": N_("visit"),
    "kind-use_check": N_("check of an instrument"),
    "kind-identity_check": N_("nameplate that was read"),
    "kind-hold_point": N_("hold point"),
    "kind-valve_test": N_("test"),
    "kind-adjustment": N_("adjustment"),
    "kind-certificate": N_("certificate"),
    "kind-attachment": N_("kept file"),
    "kind-seat_word": N_("word on a seat record"),
    "kind-contact": N_("contact"),
    # what a client may read
    "valves": N_("valves"),
    "results": N_("results"),
    "certificates": N_("certificates"),
    "visits": N_("visits, and planning them"),
    "web-hooks": N_("web-hooks"),
    # what it is told of
    "certificate-issued": N_("certificate issued"),
    "found-outside": N_("found out of tolerance"),
    "found-unfit": N_("found unfit"),
    # what makes a group of valves
    "none": N_("none"),
    "type": N_("type"),
    "medium": N_("medium"),
    "unit": N_("plant unit"),
    # parts of a nameplate
    "serial": N_("serial"),
    "tag": N_("tag"),
    "spring_number": N_("spring number"),
    "set_pressure": N_("set pressure"),
    # states of a test
    "as-found": N_("as found"),
    "as-left": N_("as left"),
    # what the pocket calculation assumes of
    "assumed-line": N_("line"),
    "assumed-pull": N_("pull"),
    "assumed-seat": N_("seat"),
    # and what a seat area found from pulls assumes of
    "assumed-u_line": N_("line pressure"),
    "assumed-u_pull": N_("pull"),
    "assumed-u_bench": N_("bench result"),
    "assumed-u_gauge": N_("calibration of the gauge"),
    "assumed-u_cell": N_("calibration of the cells"),
    "assumed-u_bench_gauge": N_("calibration of the bench gauge"),
    "assumed-u_dimension": N_("diameter"),
    # what a spreadsheet holds and brings
    "instruments": N_("instruments"),
    "new-owner": N_("owner"),
    "new-site": N_("site"),
    "new-position": N_("position"),
    "new-valve": N_("valve"),
    "new-installation": N_("installation"),
    "new-interval": N_("interval"),
    "new-instrument": N_("instrument"),
    "new-calibration": N_("calibration"),
    "new-seat_record": N_("seat record"),
    "new-valve_test": N_("test"),
    # what only a look at the valve tells
    "ask-valve-kind": N_("kind of valve"),
    "ask-spindle-holds-disc": N_("the spindle holds the disc"),
    "ask-thread": N_("thread of the spindle"),
    "ask-rupture-disc": N_("rupture disc"),
    "ask-bellows": N_("bellows"),
    "ask-drain-and-vent": N_("drain and vent"),
    "ask-seat": N_("seat"),
    "ask-gag": N_("gag"),
    "ask-guide": N_("guide"),
    "ask-release": N_("a release of the medium"),
    "ask-accepted": N_("accepted by the jurisdiction"),
    "direct-spring": N_("direct spring"),
    "pilot-operated": N_("pilot operated"),
    "supplementary-loaded": N_("supplementary loaded"),
    "weight-loaded": N_("weight loaded"),
    "vacuum": N_("vacuum"),
    "power-assisted": N_("power assisted"),
    "yes": N_("yes"),
    "no": N_("no"),
    "sound": N_("sound, whole"),
    "corroded": N_("corroded"),
    "in-series": N_("in series"),
    "failed": N_("failed"),
    "unknown": N_("unknown"),
    "clear": N_("clear"),
    "blocked": N_("blocked"),
    "metal": N_("metal"),
    "soft": N_("soft"),
    "fitted": N_("fitted"),
    "whole": N_("whole"),
    "missing": N_("missing"),
    "allowed": N_("allowed"),
    "not-allowed": N_("not allowed"),
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
