"""When to come back: how long a set pressure lasts, from tests that only show its state on the day of the test."""
