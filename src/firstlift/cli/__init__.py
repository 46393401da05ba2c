"""The command line: parse, call a use case, show."""
