"""Cleaning cycles, found in the DP alone or with the cleaning signal. Pure."""
