"""Symptoms: what is unlike its own usual, and the early warnings that follow from it. Pure."""
