"""The English sentences of the adjustment advisor."""

from __future__ import annotations

from firstlift.words.sentence import Sentence

ADJUST = {
    "adjust-not-authorised": Sentence(
        "nobody authorised the change",
        "Nobody is named who allows this person to change a setting.",
        "Only who is authorised by the owner and the code may cut the seal and turn the screw; name who did.",
    ),
    "adjust-leaking": Sentence(
        "leaked before lift",
        "The seat leaked before it lifted: the reading is low, and chasing it would set the valve high.",
        "Do not adjust. Find why it leaks, have the seat made good, then test again.",
    ),
    "adjust-stayed-open": Sentence(
        "stayed open",
        "The valve stayed open.",
        "Do not adjust. The valve is inoperable until it has been taken apart.",
    ),
    "adjust-doubtful": Sentence(
        "reading in doubt",
        "The reading does not say what the spring is set to[: {reason}].",
        "Do not adjust on it. Put right what is named, let the valve come to temperature, and pull again.",
    ),
    "adjust-pull-on": Sentence(
        "pull not let go",
        "It is not confirmed that the pull is off.",
        "Let the pull go, see slack in the gear, then confirm it.",
    ),
    "adjust-line-unknown": Sentence(
        "line pressure not known",
        "The line pressure now is not known[; it must be at {safe_pa} or below].",
        "Read it and enter it before anyone turns the screw.",
    ),
    "adjust-line-too-high": Sentence(
        "line pressure too high to adjust",
        "The line pressure[ of {line_pressure_pa}] is too near the set pressure for turning the screw"
        "[; {safe_pa} is the most].",
        "Lower the line first: a turn to the left lets the valve open in the face of whoever turns.",
    ),
    "adjust-no-spring-data": Sentence(
        "effect of a turn not known",
        "Neither spring rate and screw pitch are known nor was anything learned from earlier adjustments.",
        "Take rate and pitch from the spring's chart, or enter earlier adjustments of this valve.",
    ),
    "adjust-effect-disagrees": Sentence(
        "not the spring on the sheet",
        "Earlier adjustments of this valve moved the set pressure by other amounts than its spring's data say; what "
        "was learned is used.",
        "Find out which spring and screw are in it: a wrong spring makes every adjustment unsafe.",
    ),
    "adjust-spring-range": Sentence(
        "beyond the spring's range",
        "The target[ of {target_pa}] lies outside the spring's range[ from {range_low_pa}][ up to {range_high_pa}].",
        "Do not adjust. Another spring is work for whoever may change the valve's parts.",
    ),
    "adjust-beyond-change": Sentence(
        "too far from the stamp",
        "The target[ of {target_pa}] lies further from the stamped pressure[ of {stamped_pa}] than a spring may be "
        "reset where its range is not known.",
        "Get the maker's range of this spring, or another spring; editions of the codes differ on this limit.",
    ),
    "adjust-range-unknown": Sentence(
        "spring's range not known",
        "The maker's range of the spring is not known in full.",
        "Take it from the spring's chart: it goes before any general limit.",
    ),
    "adjust-mawp-unknown": Sentence(
        "MAWP not known",
        "The protected system's maximum pressure is not known, so nobody can say what the code allows this valve.",
        "Enter it, and whether this valve is the first of its group.",
    ),
    "adjust-above-code": Sentence(
        "above what the code allows",
        "The target[ of {target_pa}] lies above what the code allows a valve in its place[ ({place})][: {highest_pa}]"
        "[ at a MAWP of {mawp_pa}][ by {rule_set}, {clause}].",
        "Lower the target, or ask which valve of the group is the first.",
    ),
    "adjust-group-silent": Sentence(
        "code silent on groups",
        "The rule set[ {rule_set}] says nothing on how high further valves of a group may be set; MAWP is taken.",
        "Ask for the design code of the protected system and enter it.",
    ),
    "adjust-nothing-to-do": Sentence(
        "leave it",
        "The set pressure is at its target, as near as a hand can turn the screw.",
        "Leave the screw alone.",
    ),
    "adjust-within-already": Sentence(
        "within already",
        "The set pressure already lies within the limits at 95 %.",
        "Ask whether it must be touched at all: every adjustment is one more chance of an error.",
    ),
    "adjust-in-steps": Sentence(
        "turn in steps",
        "What the turn does is known too badly for one step[: it may be off by {uncertainty_pa}].",
        "Turn half of it, pull once, and let the tool learn from it.",
    ),
    "adjust-not-learned": Sentence(
        "not yet learned from this valve",
        "The turn is reckoned from the spring's data alone.",
        "Enter this adjustment after the next pull: the next one is then better known.",
    ),
}
