"""Bands: where the warning bands belong beside the sawtooth that the cleaning makes.

A band must be clear of all that normal cleaning does to the quantity it judges: by its deadband, by a tenth of the
set point it guards, and by an inch for the DP itself (common practice, no source). A deadband smaller than the
sawtooth lets an alarm come and go with every cycle, so it is as wide as the sawtooth. On-delays are 15 s at
least: the starting value for pressures of ISA-TR18.2.3 (as quoted; also EEMUA 191). A second band on the same side
stands half an inch further out at least, an inch where it has to be moved (our choice).

As little as possible is moved: a band that is clear stays where it is.
"""

import math
from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

LEAST_DELAY_S = 15.0
#: How far a band stays from the edge of what is normal, as a share of the edge (our choice).
MARGIN_SHARE = 0.1
_DAMPED_INH2O, _SMOOTH_INH2O = 1.0, 0.5
_NEXT_INH2O, _NEXT_MOVED_INH2O = 0.5, 1.0
_LOWEST_INH2O = 0.3
#: A clear band needs this much at least; when it must be moved, it gets the whole inch.
_CLEAR_INH2O = 0.5


class Quantity(StrEnum):
    """What a band judges."""

    DAMPED = "damped"
    RESIDUAL = "residual"
    AVERAGE = "average"


class BandWhy(StrEnum):
    """Why a band was moved."""

    IN_SAWTOOTH = "in_sawtooth"
    TOO_NEAR = "too_near"
    DEADBAND = "deadband"
    DELAY = "delay"
    NEXT_BAND = "next_band"
    NO_ROOM = "no_room"


class BandSetting(NamedTuple):
    """One warning band; ``is_high`` warns of what lies above."""

    tag: str
    is_high: bool
    quantity: Quantity
    setpoint_inh2o: float
    deadband_inh2o: float
    on_delay_s: float


class BandAdvice(NamedTuple):
    """A band as it is and as it should be, and why; no reasons where it stays."""

    now: BandSetting
    advised: BandSetting
    why: tuple[BandWhy, ...]


class Normal(NamedTuple):
    """Between what the cleaning takes the DP when all is well.

    Attributes:
        low_inh2o, high_inh2o: of the damped DP, its noise included.
        residual_inh2o: highest usual residual DP; the residual trend lies at or below.
        average_low_inh2o, average_high_inh2o: of the running average.
        swing_inh2o: from stop to start.
        top_inh2o: end of what the transmitter shows; None where that is not known.
    """

    low_inh2o: float
    high_inh2o: float
    residual_inh2o: float
    average_low_inh2o: float
    average_high_inh2o: float
    swing_inh2o: float
    top_inh2o: float | None = None

    def edge(self, band: BandSetting) -> float:
        """How far the normal goes on the side of that band."""
        if band.quantity is Quantity.DAMPED:
            return self.high_inh2o if band.is_high else self.low_inh2o
        if band.quantity is Quantity.AVERAGE:
            return self.average_high_inh2o if band.is_high else self.average_low_inh2o
        return self.residual_inh2o if band.is_high else self.low_inh2o


def place_all(normal: Normal, bands: Sequence[BandSetting]) -> tuple[BandAdvice, ...]:
    """Where each of them belongs, in the order given."""
    advised: dict[str, BandAdvice] = {}
    for band in sorted(bands, key=lambda one: one.setpoint_inh2o if one.is_high else -one.setpoint_inh2o):
        inner = [
            one for one in advised.values() if (one.now.is_high, one.now.quantity) == (band.is_high, band.quantity)
        ]
        advised[band.tag] = _place(normal, band, inner[-1] if inner else None)
    return tuple(advised[band.tag] for band in bands)


def _place(normal: Normal, band: BandSetting, inner: BandAdvice | None) -> BandAdvice:
    side = 1.0 if band.is_high else -1.0
    deadband = max(band.deadband_inh2o, _deadband(normal, band))
    setpoint, why = _clear(normal, band, deadband)
    if inner is not None and side * (setpoint - inner.advised.setpoint_inh2o) < _NEXT_INH2O - 1e-6:
        setpoint, why = inner.advised.setpoint_inh2o + side * _NEXT_MOVED_INH2O, (*why, BandWhy.NEXT_BAND)
    if deadband > band.deadband_inh2o:
        why = (*why, BandWhy.DEADBAND)
    if band.on_delay_s < LEAST_DELAY_S:
        why = (*why, BandWhy.DELAY)
    if setpoint < _LOWEST_INH2O or (normal.top_inh2o is not None and setpoint >= normal.top_inh2o):
        return BandAdvice(band, band, (*why, BandWhy.NO_ROOM))
    delay_s = max(band.on_delay_s, LEAST_DELAY_S)
    moved = band._replace(setpoint_inh2o=round(setpoint, 2), deadband_inh2o=deadband, on_delay_s=delay_s)
    return BandAdvice(band, moved, why)


def _deadband(normal: Normal, band: BandSetting) -> float:
    """As wide as the sawtooth where the band sees it; 0 (as it is) where it does not."""
    return math.ceil(round(normal.swing_inh2o * 10, 6)) / 10 if band.quantity is Quantity.DAMPED else 0.0


def _clear(normal: Normal, band: BandSetting, deadband: float) -> tuple[float, tuple[BandWhy, ...]]:
    """The set point that is clear of what is normal, and why it is not the one it was."""
    side = 1.0 if band.is_high else -1.0
    edge = normal.edge(band)
    distance = side * (band.setpoint_inh2o - edge)
    if distance <= 0.0:
        why = (BandWhy.IN_SAWTOOTH,)
    elif distance < max(band.deadband_inh2o, MARGIN_SHARE * edge, _CLEAR_INH2O) - 1e-6:
        why = (BandWhy.TOO_NEAR,)
    else:
        # Wide enough a deadband needs its room too, or the alarm could not go while cleaning goes on as usual.
        room = deadband - normal.swing_inh2o - 1e-6
        return (band.setpoint_inh2o, ()) if distance > room else (edge + side * deadband, (BandWhy.DEADBAND,))
    inch = _DAMPED_INH2O if band.quantity is Quantity.DAMPED else _SMOOTH_INH2O
    wanted = edge + side * max(deadband, MARGIN_SHARE * edge, inch)
    tenths = math.ceil(wanted * 10 - 1e-6) if band.is_high else math.floor(wanted * 10 + 1e-6)
    return tenths / 10, why
