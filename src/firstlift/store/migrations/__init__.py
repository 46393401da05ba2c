"""The schema's history: one file a step, run by Alembic. A step that was released is never edited."""
