"""Benchmarks: what the whole costs and how fast it is, measured side by side in one run; see README.md."""
