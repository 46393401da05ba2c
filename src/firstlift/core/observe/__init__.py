"""What is worth saying about the data and the valve: each finding with its basis."""

from firstlift.core.observe.channels import could_see_lift, saturated_by, why_no_pull, why_unusable
from firstlift.core.observe.instruments import before
from firstlift.core.observe.pulls import of_pull
from firstlift.core.observe.whole import after, edition, pop_distance, pop_line

__all__ = [
    "after",
    "before",
    "could_see_lift",
    "edition",
    "of_pull",
    "pop_distance",
    "pop_line",
    "saturated_by",
    "why_no_pull",
    "why_unusable",
]
