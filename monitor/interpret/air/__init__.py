"""Compressed air that the cleaning uses, and what it wears. Pure."""
