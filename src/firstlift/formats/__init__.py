"""Files as they come and go: job sheets in, recordings in; one module a format."""
