"""Run one benchmark by name."""

from __future__ import annotations

import argparse
import importlib
import json
import math
import os

NAMES = ("accuracy", "peers", "planning", "speed", "certificate", "register", "web")


def main() -> None:
    """Parse, run, print the figures: as JSON on the last line where asked."""
    # one thread for linear algebra: two workers share two cores, and ratios are of like with like
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    parser = argparse.ArgumentParser(prog="python -m bench", description=__doc__)
    each = parser.add_subparsers(dest="name", required=True)
    for name in NAMES:
        sub = each.add_parser(name)
        sub.add_argument("--json", action="store_true", help="print one flat JSON object last")
        sub.add_argument("--quick", action="store_true", help="smaller work, under 50 s")
        importlib.import_module(f"bench.{name}").add_options(sub)
    options = parser.parse_args()
    figures = importlib.import_module(f"bench.{options.name}").run(options)
    # JSON knows no NaN: a figure that could not be had is null
    clean = {key: None if isinstance(v, float) and not math.isfinite(v) else v for key, v in figures.items()}
    if options.json:
        print(json.dumps(clean), flush=True)
    else:
        print("\n".join(f"{key:36s} {value}" for key, value in clean.items()))


if __name__ == "__main__":
    main()
