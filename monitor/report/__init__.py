"""Rows in, documents out: tables and pictures of what happened. Pure."""
