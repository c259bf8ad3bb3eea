"""Advice: set points of on-demand cleaning and bands, and compressed air, before and after. Pure."""
