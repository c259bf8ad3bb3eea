"""Risks: settings that are allowed and that somebody will regret. Each yields one warning, and where."""
