"""From raw columns to clean signals: units, one clock, spikes, hum, saturation, noise floor, pulls."""
