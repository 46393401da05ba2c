"""Words at the edge: a finding's code and parameters become a sentence here and nowhere else."""

from firstlift.words.messages import advice, message, reason_for_refusal, title
from firstlift.words.phrases import (
    budget_words,
    decision,
    definition,
    disposition,
    distribution,
    measures,
    medium,
    outcome,
    pull_outcome,
    purpose,
    source,
    valve_type,
    verdict,
)

__all__ = [
    "advice",
    "budget_words",
    "decision",
    "definition",
    "disposition",
    "distribution",
    "measures",
    "medium",
    "message",
    "outcome",
    "pull_outcome",
    "purpose",
    "reason_for_refusal",
    "source",
    "title",
    "valve_type",
    "verdict",
]
