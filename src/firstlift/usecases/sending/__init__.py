"""Sending papers to those who wait for them: contacts, messages, the outbox, the mail server."""
