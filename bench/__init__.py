"""Benchmarks: how good and how fast, against truth, against a bound and against general-purpose tools.

Run from the project's root: ``python -m bench NAME [--json] [--quick]``.
"""
