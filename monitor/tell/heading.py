"""Heading: what stands above everything this site tells: its name, and which inch of water it means."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SiteHeading:
    """One site.

    Attributes:
        inch_of_water: which inch every inH2O is: ``conventional``, ``4 degC``, ``60 degF`` or ``68 degF``.
        pa_per_inh2o: its pascals (conventional: 249.08891, NIST SP 811 App. B.8).
    """

    name: str
    inch_of_water: str = "conventional"
    pa_per_inh2o: float = 249.08891
