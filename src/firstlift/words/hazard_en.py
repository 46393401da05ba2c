"""The English sentences of the hazard sheet."""

from __future__ import annotations

from firstlift.words.sentence import Sentence

HAZARD = {
    "hazard-owner-decides": Sentence(
        "the owner's permit decides",
        "These numbers are for judging what may happen, not a permit.",
        "The owner's permit and local codes decide; whoever sized the valve knows more than this sheet.",
    ),
    "hazard-coefficient-assumed": Sentence(
        "discharge coefficient assumed",
        "No discharge coefficient is stated[; {coefficient} is taken].",
        "Enter the certified coefficient, if the valve has one.",
    ),
    "hazard-medium-unstated": Sentence(
        "hazards of the medium not entered",
        "Nobody has entered what the medium does to people.",
        "Enter its hazards from the safety data sheet: poison, fire, burns, suffocation, cold.",
    ),
    "hazard-closed-header": Sentence(
        "discharges to a closed header",
        "The outlet goes to a closed header; no jet and no distances are given.",
        "Ask whether the header takes the flow, and what else is open to it.",
    ),
    "hazard-liquid-jet": Sentence(
        "jet of liquid",
        "A jet of liquid is thrown far and does not slow as a gas does; no distance is given for it.",
        "Lead the outlet to a safe place, or keep the whole line of the outlet clear.",
    ),
    "hazard-flashing": Sentence(
        "liquid flashes",
        "The liquid boils on its way out[: its vapour pressure is {vapour_pressure_pa} above the atmosphere]; the "
        "relation for liquids does not hold and no flow, reaction or distance is given.",
        "Treat it as a release of vapour and boiling liquid; have two-phase flow worked out before anyone pulls.",
    ),
    "hazard-flashing-unknown": Sentence(
        "vapour pressure not known",
        "It is not known whether the liquid boils on its way out; the flow holds only if it does not.",
        "Enter the vapour pressure at the temperature before the valve.",
    ),
    "hazard-outlet-unknown": Sentence(
        "outlet not known",
        "The outlet's inside is not known; no reaction and no reach of the jet is given.",
        "Enter the inside diameter of the outlet pipe at its end.",
    ),
    "hazard-wet-jet": Sentence(
        "jet carries liquid",
        "The jet carries liquid[: {liquid_share} of its mass][ at {temperature_k}].",
        "Expect drops, rain-out and burns or frost beyond the distances given.",
    ),
    "hazard-brittle": Sentence(
        "very cold jet",
        "The fluid leaves very cold[: {temperature_k}]; common steels are brittle there.",
        "Ask whether outlet pipe and supports may be that cold before anyone pulls.",
    ),
    "hazard-icing": Sentence(
        "jet below freezing",
        "The fluid leaves below freezing[: {temperature_k}].",
        "Keep skin away; look for ice in outlet and drain.",
    ),
    "hazard-hot-jet": Sentence(
        "hot jet",
        "The fluid leaves hot[: {temperature_k}].",
        "Keep out of the line of outlet, drain and open bonnet; hot surfaces burn as well.",
    ),
}
