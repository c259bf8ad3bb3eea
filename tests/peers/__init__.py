"""Devices and brokers that the tests meet: none of them shares code with monitor/."""
