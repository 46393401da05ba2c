"""Use cases: one function each, between the thin edges and the core."""
