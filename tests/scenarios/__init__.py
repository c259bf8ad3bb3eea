"""Scenarios of the simulated plant, from files, with the truth beside what is shown."""
