"""Simulated valves and rigs whose truth is known: for tests, the demo and accuracy figures."""
