"""The invented scenario that people try the program with."""
