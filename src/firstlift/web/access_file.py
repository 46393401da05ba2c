"""The file of sign-ins, sessions, drafts, tokens and web-hooks: opened for each question, made where it is not there.

It lies beside the register and is readable by its owner alone. It is no part of the register, of its exports or of
its chain; what is done with it stands in the chain (`firstlift.web.deeds`).
"""

from __future__ import annotations

from pathlib import Path

from firstlift.store.side_file import SideFile

_SCHEMA = """
CREATE TABLE IF NOT EXISTS account (
    person_id TEXT PRIMARY KEY, name_key TEXT NOT NULL UNIQUE, password TEXT NOT NULL, role TEXT NOT NULL,
    failed INTEGER NOT NULL DEFAULT 0, next_try_at TEXT NOT NULL DEFAULT '', active INTEGER NOT NULL DEFAULT 1);
CREATE TABLE IF NOT EXISTS device (
    id_sha256 TEXT PRIMARY KEY, person_id TEXT NOT NULL, ends_at TEXT NOT NULL,
    failed INTEGER NOT NULL DEFAULT 0, next_try_at TEXT NOT NULL DEFAULT '');
CREATE TABLE IF NOT EXISTS session (
    id_sha256 TEXT PRIMARY KEY, person_id TEXT NOT NULL, csrf TEXT NOT NULL, made_at TEXT NOT NULL,
    seen_at TEXT NOT NULL, ends_at TEXT NOT NULL, client TEXT NOT NULL, revoked_at TEXT);
CREATE TABLE IF NOT EXISTS likes (
    person_id TEXT NOT NULL, name TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (person_id, name));
CREATE TABLE IF NOT EXISTS draft (
    person_id TEXT NOT NULL, form TEXT NOT NULL, fields TEXT NOT NULL, at TEXT NOT NULL, PRIMARY KEY (person_id, form));
CREATE TABLE IF NOT EXISTS token (
    id_sha256 TEXT PRIMARY KEY, name TEXT NOT NULL, scopes TEXT NOT NULL, made_at TEXT NOT NULL, made_by TEXT NOT NULL,
    revoked_at TEXT);
CREATE TABLE IF NOT EXISTS answered (
    token TEXT NOT NULL, key TEXT NOT NULL, asked_sha256 TEXT NOT NULL, at TEXT NOT NULL, status INTEGER, body TEXT,
    PRIMARY KEY (token, key));
CREATE TABLE IF NOT EXISTS hook (
    id TEXT PRIMARY KEY, token TEXT NOT NULL, url TEXT NOT NULL, events TEXT NOT NULL, secret TEXT NOT NULL,
    made_at TEXT NOT NULL, seen INTEGER NOT NULL, ended_at TEXT);
CREATE TABLE IF NOT EXISTS delivery (
    hook_id TEXT NOT NULL, event_id TEXT NOT NULL, body TEXT NOT NULL, tries INTEGER NOT NULL DEFAULT 0,
    next_at TEXT, said TEXT NOT NULL DEFAULT '', PRIMARY KEY (hook_id, event_id));
"""
# columns that came after the first release of a table
_LATER = (("account", "must_change", "INTEGER NOT NULL DEFAULT 0"),)


class AccessFile(SideFile):
    """The file, made or brought up where needed."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, _SCHEMA, _LATER)
