"""A short fixed corpus, analysed once for all tests of this folder."""

from __future__ import annotations

import pytest
from bench.corpus import CLEAN, Row, run_corpus

from firstlift.sim.conditions import CONDITIONS

# recordings of each condition; their numbers fix their seeds, so more can be added and none changes
SEEDS = 1
CLEAN_SEEDS = 3


@pytest.fixture(scope="session")
def rows() -> dict[str, list[Row]]:
    """Give the corpus: condition to its recordings."""
    hard = [name for name in CONDITIONS if name not in CLEAN]
    out: dict[str, list[Row]] = {name: [] for name in CONDITIONS}
    for row in (*run_corpus(hard, range(SEEDS)), *run_corpus(CLEAN, range(CLEAN_SEEDS))):
        out[row.condition].append(row)
    for found in out.values():
        found.sort(key=lambda row: row.index)
    return out
