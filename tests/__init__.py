"""All tests; a package, so that no other distribution's `tests` stands before it."""
