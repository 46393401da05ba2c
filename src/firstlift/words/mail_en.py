"""English words of the messages that papers are sent with; they stand in one table with those of the papers."""

from __future__ import annotations

MAIL_WORDS = {
    "mail.subject": "Certificate {number}: {valve}",
    "mail.subject-several": "{count} papers: {what}",
    "mail.dear": "Dear {name},",
    "mail.one": "attached is the certificate of a test of a safety valve.",
    "mail.several": "attached are the papers of tests of safety valves.",
    "mail.number": "Certificate: {number}",
    "mail.valve": "Valve: {tag}, serial {serial}",
    "mail.valve-nowhere": "Valve: serial {serial}",
    "mail.site": "Site: {site}",
    "mail.day": "Tested: {date}",
    "mail.file": "File: {name}",
    "mail.hash": "SHA-256 of the file: {sha256}",
    "mail.superseded": "This certificate no longer stands. {by} takes its place: {reason}",
    "mail.superseded-alone": "This certificate no longer stands: it was superseded.",
    "mail.withdrawn": "This certificate no longer stands. It was withdrawn: {reason}",
    "mail.found": "What was found, with its uncertainty and limits, stands in the attached file.",
    "mail.check": "The signature shows that no byte was changed; most readers of PDF look at it.",
    "mail.note": "From whoever sends it:",
    "mail.invented": "Invented data: this owner, its people, valves and tests do not exist.",
    "mail.regards": "With kind regards",
    "mail.summary": "Summary of the visit",
}
