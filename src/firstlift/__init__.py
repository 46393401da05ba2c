"""Firstlift: from the pull on a safety valve in service to set pressure, verdict and certificate."""

__version__ = "0.1.0"
