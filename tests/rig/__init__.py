"""Rig: the whole daemon as a process, between devices and a broker that fail as told, and a subscriber."""
