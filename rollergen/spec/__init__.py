"""What is asked for: units, profile, compound, tolerances, limits, reading."""
