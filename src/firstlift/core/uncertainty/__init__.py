"""Uncertainty: budget lines, first-order propagation, coverage, calibration lines, sampling as a check."""
