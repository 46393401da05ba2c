"""What is worth saying about the data and the valve: each finding with its basis."""

from firstlift.core.observe.channels import could_see_lift, saturated_by, why_no_pull, why_unusable
from firstlift.core.observe.instruments import before
from firstlift.core.observe.pulls import of_pull
from firstlift.core.observe.reviewed import Moved, check_reviews, move_first_lift, of_review
from firstlift.core.observe.whole import after, edition, pop_distance, pop_line

__all__ = [
    "Moved",
    "after",
    "before",
    "check_reviews",
    "could_see_lift",
    "edition",
    "move_first_lift",
    "of_pull",
    "of_review",
    "pop_distance",
    "pop_line",
    "saturated_by",
    "why_no_pull",
    "why_unusable",
]
