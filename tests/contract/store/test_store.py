"""What a store does, the same on both engines."""

import dataclasses
import datetime as dt
import uuid

import pytest
import sqlalchemy as sa
from alembic import command
from tests.contract.store import entries as e

from firstlift.core.errors import FirstliftError
from firstlift.core.register import choose
from firstlift.core.register.chain import Entry, breaks
from firstlift.core.register.codec import from_plain, to_plain
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.kinds import FROZEN, KINDS, NAME_OF
from firstlift.core.register.people import Person
from firstlift.core.register.places import Interval, Owner, Position, Site
from firstlift.core.register.work import Certificate, CertificateState, HowTested, ValveTest, WhyNot
from firstlift.store.open import create_store, open_store, upgrade_store
from firstlift.store.schema import HEAD, alembic_config, upgrade
from firstlift.store.tables import TABLES, audit_table, metadata, standing_table

WHO = "program:test"


def fill(store, entries=e.ALL):
    with store.work(at=e.AT, who=WHO) as work:
        work.add_all(entries)


def chain(store):
    with store.read() as reader:
        rows = reader.connection.execute(sa.select(audit_table).order_by(audit_table.c.number)).mappings()
        return [Entry(**row) for row in rows]


def standing(store, valve=e.VALVE):
    with store.read() as reader:
        query = sa.select(standing_table).where(standing_table.c.valve_id == valve.id)
        return reader.connection.execute(query).mappings().one()


def code(caught):
    return caught.value.problems[0].code


def test_the_examples_hold_every_kind():
    assert [type(entry) for entry in e.ALL] == list(KINDS.values())


@pytest.mark.parametrize("entry", e.ALL, ids=lambda entry: NAME_OF[type(entry)])
def test_an_entry_read_from_its_plain_form_is_equal(entry):
    assert from_plain(type(entry), to_plain(entry)) == entry


def test_every_kind_comes_back_equal(store):
    fill(store)
    with store.read() as reader:
        for entry in e.ALL:
            assert reader.get(type(entry), entry.id) == entry
            assert reader.list(type(entry)) == [entry]
            assert list(reader.stream(type(entry))) == [entry]


def test_a_store_opened_again_holds_what_was_committed(store, place):
    fill(store)
    again = open_store(place[0], folder=place[1])
    assert again.id == store.id
    with again.read() as reader:
        assert reader.get(ValveTest, e.TEST.id) == e.TEST
    again.close()


def test_what_fails_leaves_nothing_behind(store):
    twice = [e.OWNER, e.PERSON, dataclasses.replace(e.OWNER, id=uuid.uuid4(), name="MARROW BAY energy")]
    with pytest.raises(FirstliftError):
        fill(store, twice)
    with store.read() as reader:
        assert reader.list(Owner) == []
    assert chain(store) == []
    fill(store)


def test_a_second_one_of_a_name_is_refused(store):
    fill(store)
    with pytest.raises(FirstliftError) as caught:
        fill(store, [dataclasses.replace(e.SITE, id=uuid.uuid4())])
    assert code(caught) == "REG-011"


def test_a_reference_to_nothing_is_refused(store):
    with pytest.raises(FirstliftError) as caught:
        fill(store, [e.SITE])
    assert code(caught) == "REG-011"


def test_one_place_holds_one_valve(store):
    fill(store)
    other = dataclasses.replace(e.VALVE, id=uuid.uuid4(), serial="S2")
    with pytest.raises(FirstliftError) as caught:
        fill(store, [other, Installation(uuid.uuid4(), other.id, e.POSITION.id, e.DAY)])
    assert code(caught) == "REG-011"


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        (dataclasses.replace(e.OWNER, name="  "), "REG-012"),
        (dataclasses.replace(e.OWNER, name="x" * 300), "REG-012"),
        (dataclasses.replace(e.OWNER, note="a\0b"), "REG-003"),
        (dataclasses.replace(e.OWNER, note="\ud800"), "REG-003"),
        (dataclasses.replace(e.OWNER, note=3), "REG-002"),
        (dataclasses.replace(e.PERSON, details_sha256="0" * 64), "REG-014"),
        (dataclasses.replace(e.INTERVAL, since=dt.date(2027, 1, 1)), "REG-013"),
        (dataclasses.replace(e.TEST, set_pressure_pa=float("nan")), "REG-003"),
        (dataclasses.replace(e.TEST, at=dt.datetime(2026, 1, 1)), "REG-001"),  # noqa: DTZ001
    ],
)
def test_an_entry_that_cannot_be_kept_is_refused(store, entry, expected):
    with pytest.raises(FirstliftError) as caught:
        fill(store, [entry])
    assert code(caught) == expected


def test_whole_numbers_for_measures_are_kept_as_measures(store):
    fill(store, [e.OWNER, dataclasses.replace(e.VALVE, spring_rate_n_m=250000)])
    with store.read() as reader:
        assert isinstance(reader.get(RegisteredValve, e.VALVE.id).spring_rate_n_m, float)


def test_every_change_is_an_entry_of_the_chain(store):
    fill(store)
    moved = dataclasses.replace(e.SITE, jurisdiction="another")
    with store.work(at=e.AT + dt.timedelta(hours=1), who=str(e.PERSON.id)) as work:
        work.change(moved)
    made = chain(store)
    assert [entry.number for entry in made] == list(range(1, len(e.ALL) + 2))
    assert list(breaks(made, store.id)) == []
    last = made[-1]
    assert (last.who, last.action, last.kind, last.entry_id) == (str(e.PERSON.id), "change", "site", e.SITE.id)
    assert ("invented shire" in last.before, "another" in last.after) == (True, True)
    assert last.at == "2026-03-02T09:30:15.250000Z"


def test_what_was_observed_is_never_edited(store):
    fill(store)
    kept = [entry for entry in e.ALL if NAME_OF[type(entry)] in FROZEN]
    assert len(kept) == len(FROZEN)
    for entry in kept:
        with pytest.raises(FirstliftError) as caught, store.work(at=e.AT, who=WHO) as work:
            work.change(dataclasses.replace(entry, note="edited"))
        assert code(caught) == "REG-015"
        with pytest.raises(FirstliftError) as caught, store.work(at=e.AT, who=WHO) as work:
            work.connection.execute(sa.update(TABLES[NAME_OF[type(entry)]]).values(note="edited"))
        assert code(caught) == "STO-006"


def test_nothing_is_deleted(store):
    fill(store)
    for name in [*KINDS, "audit_entry", "store"]:
        with pytest.raises(FirstliftError) as caught, store.work(at=e.AT, who=WHO) as work:
            work.connection.execute(sa.delete(metadata.tables[name]))
        assert code(caught) == "STO-006", name


def test_the_chain_is_never_edited(store):
    fill(store)
    with pytest.raises(FirstliftError) as caught, store.work(at=e.AT, who=WHO) as work:
        work.connection.execute(sa.update(audit_table).values(who="other"))
    assert code(caught) == "STO-006"


def test_a_correction_supersedes_and_only_once(store):
    fill(store)
    corrected = dataclasses.replace(e.TEST, id=uuid.uuid4(), supersedes=e.TEST.id, verdict="outside")
    fill(store, [corrected])
    assert (standing(store)["last_test_id"], standing(store)["last_verdict"]) == (corrected.id, "outside")
    with pytest.raises(FirstliftError) as caught:
        fill(store, [dataclasses.replace(corrected, id=uuid.uuid4())])
    assert code(caught) == "REG-011"


def test_a_correction_is_of_the_same_valve(store):
    fill(store)
    other = dataclasses.replace(e.VALVE, id=uuid.uuid4(), serial="S2")
    with pytest.raises(FirstliftError) as caught:
        fill(store, [other, dataclasses.replace(e.TEST, id=uuid.uuid4(), valve_id=other.id, supersedes=e.TEST.id)])
    assert code(caught) == "REG-017"


def test_a_certificate_goes_forward_only(store):
    fill(store)
    reviewed = dataclasses.replace(e.CERTIFICATE, state=CertificateState.REVIEWED)
    issued = dataclasses.replace(reviewed, state=CertificateState.ISSUED, issued_at=e.AT, signed_sha256="ef" * 32)
    for step in (reviewed, issued):
        with store.work(at=e.AT, who=WHO) as work:
            work.change(step)
    for wrong in (
        reviewed,
        dataclasses.replace(issued, signed_sha256="00" * 32),
        dataclasses.replace(issued, number=2),
    ):
        with pytest.raises(FirstliftError) as caught, store.work(at=e.AT, who=WHO) as work:
            work.change(wrong)
        assert code(caught) == "REG-016"
    with pytest.raises(FirstliftError) as caught, store.work(at=e.AT, who=WHO) as work:
        work.connection.execute(sa.update(TABLES["certificate"]).values(signed_sha256="00" * 32))
    assert code(caught) == "STO-006"
    with store.work(at=e.AT, who=WHO) as work:
        work.change(dataclasses.replace(issued, state=CertificateState.WITHDRAWN))
        assert work.get(Certificate, issued.id).state is CertificateState.WITHDRAWN


def test_personal_data_go_and_the_chain_holds(store):
    fill(store)
    with store.work(at=e.AT, who=WHO) as work:
        work.erase_person(e.PERSON.id)
    with store.read() as reader:
        person = reader.get(Person, e.PERSON.id)
        texts = reader.connection.execute(sa.select(audit_table.c.before + audit_table.c.after)).scalars().all()
    assert (person.details, person.details_sha256) == (None, e.PERSON.details_sha256)
    assert [text for text in texts if "Example" in text or "s4lt" in text] == []
    assert list(breaks(chain(store), store.id)) == []


def test_a_valve_stands_where_its_entries_say(store):
    fill(store)
    stands = standing(store)
    assert (stands["active"], stands["tag_key"], stands["serial_key"]) == (True, "psv-1100", "s1100")
    assert (stands["due"], stands["last_verdict"], stands["not_tested"]) == (dt.date(2028, 3, 2), "within", None)
    assert (stands["site_id"], stands["unit_key"], stands["medium"]) == (e.SITE.id, "boiler house", "steam")
    shorter = Interval(uuid.uuid4(), e.POSITION.id, 12, dt.date(2026, 1, 1))
    fill(store, [shorter])
    assert standing(store)["due"] == dt.date(2027, 3, 2)


def test_a_valve_not_tested_stays_due(store):
    fill(store)
    later = e.AT + dt.timedelta(days=400)
    missed = ValveTest(
        uuid.uuid4(), e.VALVE.id, HowTested.NOT_TESTED, e.TEST.purpose, later, e.ZONE, later.date(),
        e.POSITION.id, not_tested=WhyNot.NO_ACCESS,
    )  # fmt: skip
    fill(store, [missed])
    stands = standing(store)
    assert (stands["due"], stands["not_tested"]) == (dt.date(2028, 3, 2), "no-access")
    assert stands["last_test_id"] == e.TEST.id


def test_a_valve_taken_down_is_not_due(store):
    fill(store)
    with store.work(at=e.AT, who=WHO) as work:
        work.change(dataclasses.replace(e.INSTALLATION, until=e.DAY))
    stands = standing(store)
    assert (stands["active"], stands["position_id"], stands["due"]) == (False, None, None)
    fill(store, [Installation(uuid.uuid4(), e.VALVE.id, e.POSITION.id, e.DAY)])
    assert standing(store)["active"] is True


def test_names_are_found_whatever_their_letters(store):
    fill(store)
    with store.read() as reader:
        assert reader.by_key(Position, "ＰＳＶ-1100") == [e.POSITION]
        assert reader.by_key(Owner, "marrow BAY energy") == [e.OWNER]
        assert reader.by_key(RegisteredValve, "s1100", owner_id=e.OWNER.id) == [e.VALVE]
        assert reader.count(Site, owner_id=e.OWNER.id) == 1
    assert choose.search_key("ß") == choose.search_key("SS")


def test_many_entries_come_back_a_chunk_at_a_time(store):
    owners = [Owner(uuid.UUID(int=n), f"owner {n}") for n in range(1, 1203)]
    fill(store, owners)
    with store.read() as reader:
        assert list(reader.stream(Owner, chunk=100)) == owners
        assert reader.list(Owner, order=("-name_key", "id"), limit=1)[0].name == "owner 999"


def test_the_schema_is_what_the_code_says_and_goes_back_and_forth(place):
    where, folder = place
    made = create_store(where, store_id=uuid.uuid4(), at=e.AT, folder=folder)
    for step in ("check", "down", "up", "check"):
        with made.writer.begin() as connection:
            config = alembic_config(connection)
            if step == "check":
                command.check(config)
            elif step == "down":
                command.downgrade(config, "base")
            else:
                upgrade(connection)
    made.close()


def test_the_head_is_the_last_step_there_is(place):
    from alembic.script import ScriptDirectory

    where, folder = place
    made = create_store(where, store_id=uuid.uuid4(), at=e.AT, folder=folder)
    with made.writer.begin() as connection:
        assert ScriptDirectory.from_config(alembic_config(connection)).get_current_head() == HEAD
    made.close()
    assert upgrade_store(where, folder=folder) == (HEAD, HEAD)


def test_a_place_without_a_register_says_so(place):
    with pytest.raises(FirstliftError) as caught:
        open_store(place[0], folder=place[1])
    assert code(caught) == "STO-008"


def test_a_second_register_in_one_place_is_refused(store, place):
    with pytest.raises(FirstliftError) as caught:
        create_store(place[0], store_id=uuid.uuid4(), at=e.AT, folder=place[1])
    assert code(caught) == "STO-003"


def test_a_register_of_another_release_is_not_touched(store, place):
    with store.writer.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    for refuse in (open_store, upgrade_store):
        with pytest.raises(FirstliftError) as caught:
            refuse(place[0], folder=place[1])
        assert (code(caught), "newer" in str(caught.value)) == ("STO-009", True)


def test_an_address_of_nothing_known_is_refused():
    with pytest.raises(FirstliftError) as caught:
        open_store("mysql://somewhere/x")
    assert code(caught) == "STO-001"
