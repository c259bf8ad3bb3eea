"""Hosts: which of them are this machine alone."""

from ipaddress import ip_address


def is_loopback(host: str) -> bool:
    """Whether nobody but this machine is reached there; a name other than localhost may lead anywhere."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host.casefold() == "localhost"
