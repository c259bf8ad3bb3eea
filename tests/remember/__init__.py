"""Tests of the store, on real files and real SQLite; the machine beneath is made to fail."""
