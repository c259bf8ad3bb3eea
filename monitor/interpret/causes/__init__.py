"""Causes: which troubles are likely behind what shows, by rules that are kept as data. Pure."""
