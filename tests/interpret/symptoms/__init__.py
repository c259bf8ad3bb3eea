"""Early warnings and usual values, against the plant and against tables."""
