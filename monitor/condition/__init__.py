"""Registers become readings one may trust. Pure: no I/O, no clock; time is passed in."""
