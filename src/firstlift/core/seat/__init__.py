"""Seat records: where a seat area comes from, which one is in force, and fits of an area from pulls."""
