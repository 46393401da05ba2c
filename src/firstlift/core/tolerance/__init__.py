"""Tolerance: the codes' limits as data with edition, clause and source status, and the decision rules."""

KNOWN_CODES = ("iso-4126-1", "asme-xiii", "asme-viii-1", "asme-i", "asme-iv-steam", "asme-iv-water", "owner")
