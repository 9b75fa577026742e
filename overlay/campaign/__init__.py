"""Many frames of one board: units, load states, hours of a soak."""
