"""Where start and stop of the cleaning and the warning bands belong, tried out on what was recorded. Pure."""
