"""English phrases for outcomes, verdicts, dispositions and rules, and for why there is no set pressure."""

from __future__ import annotations

OUTCOME = {
    "measured": "Set pressure measured",
    "not_lifted": "The valve did not lift",
    "unusable": "The recording cannot show a set pressure",
}
PULL = {
    "measured": "measured",
    "not_lifted": "no lift",
    "unusable": "unusable",
    "already_open": "already open",
}
VERDICT = {
    "within": "Within the limits",
    "outside": "Outside the limits",
    "undecided": "Undecided",
}
DISPOSITION = {
    "fit": "Fit for service",
    "fit_with_restriction": "Fit with restriction",
    "unfit": "Not fit for service",
    "inoperable": "Inoperable",
}
DECISION = {
    "simple": "simple acceptance: the value is held against the limits as it stands",
    "guarded": "guarded: within if the probability of lying within the limits is at least {probability}, outside if at "
    "most {complement}, else undecided",
}
DEFINITION = {"first-lift": "first lift of the disc", "pop": "pop"}
SOURCE = {
    "looked-up": "looked up in a public copy; confirm against the licensed edition",
    "computed": "computed from a rule that is stated elsewhere",
    "memory": "from memory; confirm against the licensed edition",
    "common-practice": "common practice, no source",
    "owner": "stated by the owner",
}
PURPOSE = {"as-found": "as found", "as-left": "as left"}
MEDIUM = {"gas": "gas", "steam": "steam", "liquid": "liquid"}
TYPE = {
    "conventional": "conventional, closed bonnet",
    "vented-bonnet": "vented bonnet",
    "balanced-bellows": "balanced bellows",
}
MEASURES = {
    "pull_force": "pull force",
    "line_pressure": "line pressure",
    "spindle_lift": "spindle lift",
    "acoustic": "sound",
    "back_pressure": "back pressure",
    "temperature": "temperature",
}
DISTRIBUTION = {
    "normal": "normal",
    "rectangular": "rectangular",
    "triangular": "triangular",
    "one-sided": "one-sided",
}
# what the lines of a budget are called in the result, part by part; names of channels stay as they are
BUDGET = {
    word: word
    for word in (
        "line pressure, entered by hand",
        "moment of first lift and noise",
        "moment moved by hand",
        "seat area between its edges",
        "seat area while leaking",
        "distance from first lift to pop",
        "back pressure at the test",
        "line pressure",
        "pull force",
        "seat area",
        "zero shift",
        "by hand",
        "unknown",
        "offset",
        "gauge",
        "scale",
        "setup",
        "cell",
        "seat",
        "pull",
        "tare",
        "by",
        "of",
    )
}
FRAME = {"refusal": "No set pressure is given: {why}."}
REFUSAL = {
    "not-lifted": "the valve did not lift, so there is no opening to measure",
    "no-usable-force": "no force channel gave a usable signal",
    "no-pull-found": "the recording shows no pull",
    "no-line-pressure": "there is no usable line pressure",
    "force-saturated": "the force cell ran into its stop before or at first lift",
    "force-dropout": "the force signal dropped out where it was needed",
    "already-open": "the valve was open when the pull began",
    "slack-not-proven": "the zero of the pulling force is not proven",
    "gap": "the recording has gaps where it was needed",
    "gap-at-first-lift": "the recording has a gap where the valve lifted",
    "lift-signal-lost": "the lift signal was lost",
    "acoustic-signal-lost": "the sound signal was lost",
    "channels-disagree": "the channels contradict each other",
    "torn-file": "the recording was cut short before it could show a lift",
    "rate-too-low": "the recording is too slow to show first lift",
    "late-start": "the recording started too late to show the pull from its slack",
}

# nouns behind a number: one, and any other; further forms stand in the catalogues of languages that have them
COUNTED = {"years": ("year", "years"), "valves": ("valve", "valves")}

TABLES = {
    "outcome": OUTCOME,
    "pull": PULL,
    "verdict": VERDICT,
    "disposition": DISPOSITION,
    "decision": DECISION,
    "definition": DEFINITION,
    "source": SOURCE,
    "purpose": PURPOSE,
    "medium": MEDIUM,
    "type": TYPE,
    "measures": MEASURES,
    "distribution": DISTRIBUTION,
    "budget": BUDGET,
    "frame": FRAME,
    "refusal": REFUSAL,
}
