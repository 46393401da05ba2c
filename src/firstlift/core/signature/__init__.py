"""The mechanical signature of a pull over the earlier ones of its valve: what changed, and what that names."""
