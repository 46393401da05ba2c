"""Runs the steps on the connection that the store passes in, inside its transaction."""

from __future__ import annotations

from alembic import context

from firstlift.store.tables import metadata


def _run() -> None:
    context.configure(
        connection=context.config.attributes["connection"],
        target_metadata=metadata,
        render_as_batch=True,
        compare_type=True,
        transactional_ddl=True,
    )
    # the caller began the transaction and ends it
    context.run_migrations()


_run()
