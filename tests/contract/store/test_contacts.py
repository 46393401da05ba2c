"""Contacts: personal data apart and removable, on both engines; and brought up from every earlier schema."""

import dataclasses

import pytest
import sqlalchemy as sa
from tests.contract.store import entries as e

from firstlift.core.errors import FirstliftError
from firstlift.core.register.contacts import Contact
from firstlift.core.register.people import PersonalDetails
from firstlift.store.audit import audit
from firstlift.store.open import create_store, open_store, upgrade_store
from firstlift.store.schema import HEAD, alembic_config, step_of
from firstlift.store.tables import audit_table


@pytest.fixture
def kept(store):
    with store.work(at=e.AT, who=str(e.PERSON.id)) as work:
        work.add_all([e.OWNER, e.SITE, e.CONTACT])
    return store


def chain_of(store):
    with store.read() as reader:
        return [dict(row) for row in reader.connection.execute(sa.select(audit_table)).mappings()]


def test_what_identifies_a_contact_is_removed_and_the_chain_holds(kept):
    with kept.work(at=e.AT, who=str(e.PERSON.id)) as work:
        work.erase_contact(e.CONTACT.id)
    with kept.read() as reader:
        gone = reader.get(Contact, e.CONTACT.id)
        assert audit(reader).faults == ()
    assert (gone.details, gone.details_sha256) == (None, e.CONTACT.details_sha256)
    assert "ben@example.org" not in str(chain_of(kept)).casefold()
    assert "Ben Example" not in str(chain_of(kept))


def test_what_was_removed_cannot_be_given_another_hash(kept):
    with kept.work(at=e.AT, who="program:test") as work:
        work.erase_contact(e.CONTACT.id)
    other = dataclasses.replace(e.CONTACT, details=None, details_sha256="ab" * 32)
    with pytest.raises(FirstliftError, match="REG-014"), kept.work(at=e.AT, who="program:test") as work:
        work.change(other)


def test_a_contact_whose_details_do_not_fit_its_hash_is_refused(kept):
    forged = dataclasses.replace(e.CONTACT, details=PersonalDetails("s", "Somebody else", "else@example.org"))
    with pytest.raises(FirstliftError, match="REG-014"), kept.work(at=e.AT, who="program:test") as work:
        work.change(forged)


def test_details_changed_behind_the_registers_back_are_named(kept):
    with kept.writer.begin() as connection:
        table = sa.table("contact", sa.column("details", sa.JSON()))
        connection.execute(sa.update(table).values(details={"salt": "s", "name": "Eve", "email": "", "phone": ""}))
    with kept.read() as reader:
        assert [fault.reason for fault in audit(reader).faults] == ["its personal data are not what their hash says"]


def test_a_contact_is_never_deleted(kept):
    with pytest.raises(sa.exc.DBAPIError, match="nothing is deleted"), kept.writer.begin() as connection:
        connection.execute(sa.text("DELETE FROM contact"))


@pytest.mark.parametrize("step", ["0001", "0002", "0003"])
def test_a_register_of_an_earlier_schema_is_brought_up_and_takes_contacts(place, step):
    from alembic import command

    where, folder = place
    store = create_store(where, store_id=e.ident(7), at=e.AT, folder=folder)
    with store.work(at=e.AT, who="program:test") as work:
        work.add_all([e.OWNER, e.SITE])
    with store.writer.begin() as connection:
        command.downgrade(alembic_config(connection), step)
        assert step_of(connection) == step
    store.close()
    with pytest.raises(FirstliftError, match="STO-009"):
        open_store(where, folder=folder)
    assert upgrade_store(where, folder=folder) == (step, HEAD)
    store = open_store(where, folder=folder)
    with store.work(at=e.AT, who="program:test") as work:
        work.add(e.CONTACT)
    with store.read() as reader:
        assert reader.get(Contact, e.CONTACT.id) == e.CONTACT
        assert audit(reader).faults == ()
    store.close()
