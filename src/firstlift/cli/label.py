"""``firstlift label``: labels with a code for valves of the register."""

from __future__ import annotations

import argparse
from pathlib import Path

from firstlift.cli.show import show
from firstlift.core.errors import Problem, UsageError
from firstlift.usecases.certify import write_whole
from firstlift.usecases.labels import LabelWish, make_labels
from firstlift.usecases.register.place import now, opened


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0.

    Raises
    ------
    UsageError
        LBL-005 neither tags nor a site were named.
    """
    if not arguments.tag and not arguments.site:
        raise UsageError(Problem("LBL-005", "nothing says which valves", "label", "tags, or --site for all of a site"))
    wish = LabelWish(
        tuple(arguments.tag), arguments.site, arguments.base_url, arguments.roll, arguments.language, arguments.fonts
    )
    with opened(arguments.store) as store:
        pdf, count = make_labels(store, wish, day=now().date())
    write_whole(Path(arguments.out), pdf)
    show(f"{count} label{'' if count == 1 else 's'}: {arguments.out}")
    return 0
