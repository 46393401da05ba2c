"""What keeps the screens quick on a register of a hundred thousand valves: no list reads each standing."""

import datetime as dt

import pytest
from sqlalchemy import event

from firstlift.core.register.work import Certificate
from firstlift.core.valve import Medium
from firstlift.store.search import Wanted, count, search
from firstlift.web.lists import count_day, due_by_week, site_summaries

ON = dt.date(2026, 6, 1)
QUESTIONS = {
    "fleet": (lambda reader: site_summaries(reader, ON), "COVERING INDEX ix_standing_at_a_glance"),
    "day": (lambda reader: count_day(reader, ON), "COVERING INDEX ix_standing_at_a_glance"),
    "weeks": (lambda reader: due_by_week(reader, ON, 26), "COVERING INDEX ix_standing_active_due"),
    "list": (lambda reader: search(reader, Wanted(active=True), offset=90), "ix_standing_active_tag_key"),
    "serial": (lambda reader: search(reader, Wanted(active=True, serial="s")), "ix_standing_active_serial_key"),
    "verdict": (
        lambda reader: search(reader, Wanted(active=True, last_verdict="within")),
        "ix_standing_active_last_verdict",
    ),
    "medium": (lambda reader: count(reader, Wanted(active=True, medium=Medium.GAS)), "COVERING INDEX"),
    "papers": (
        lambda reader: reader.list(Certificate, order=("-reserved_at", "-id"), limit=50),
        "ix_certificate_reserved_at",
    ),
    "drafts": (
        lambda reader: reader.list(Certificate, state="draft", order=("-reserved_at",), limit=20),
        "ix_certificate_state_reserved_at",
    ),
}


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_question_asked_on_every_page_is_answered_from_an_index(store, name):
    ask, index = QUESTIONS[name]
    asked = []

    def note(_connection, _cursor, statement, values, *_):
        asked.append((statement, values))

    event.listen(store.reader, "before_cursor_execute", note)
    try:
        with store.read() as reader:
            ask(reader)
            statement, values = asked[-1]
            plan = reader.connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values).all()
    finally:
        event.remove(store.reader, "before_cursor_execute", note)
    assert any(index in row[3] for row in plan), [row[3] for row in plan]


def test_the_day_and_the_fleet_count_the_same_valves(store):
    with store.read() as reader:
        day, sites = count_day(reader, ON), site_summaries(reader, ON).values()
        late = count(reader, Wanted(active=True, due_by=ON - dt.timedelta(days=1)))
        total = count(reader, Wanted(active=True))
    assert (day.valves, day.late) == (total, late)
    assert (sum(site.valves for site in sites), sum(site.overdue for site in sites)) == (total, late)
    assert day.valves > day.late > 0
    assert sum(sum(site.verdicts.values()) for site in sites) == total
