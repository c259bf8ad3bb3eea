"""Recorded data through the same core: what alarms these set points would have given."""
