"""Which valves were tested on the bench: a question of one column, so that no result has to be read for it."""

from __future__ import annotations

from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.work import HowTested
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES


def valves_tested_on_bench(reader: Reader) -> list[UUID]:
    """Give the valves with a bench test, in order of identifier.

    Parameters
    ----------
    reader : Reader

    Returns
    -------
    list of UUID
    """
    tests = TABLES["valve_test"]
    query = (
        sa.select(tests.c.valve_id).where(tests.c.kind == str(HowTested.BENCH)).distinct().order_by(tests.c.valve_id)
    )
    return list(reader.connection.execute(query).scalars())
