"""The core: pure functions on arrays and frozen values."""
