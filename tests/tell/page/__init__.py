"""Tests of the page's server side."""
