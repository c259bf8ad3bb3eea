"""The tracker of cleaning cycles, and a small plant of its own to try it on."""
