"""Cloth: rows of filters side by side, how much air a pressure drives through them, and where its dust goes.

All rows feel the same DP and share the air by their drags: Q = ΔP·Σ(A/S), S = Se + K2·W (EPA/452/B-02-001
Section 6 Chapter 1; rows in parallel by arithmetic). A pulse takes a share of one row's dust; part of it settles
on the others before it reaches the hopper. The set is changed in place, because a month has a million steps.
"""

import math
import random

from monitor.plant import physics
from monitor.plant.build import Build
from monitor.plant.mishaps import Forces

_DAY_S = 86_400.0


class ClothRows:
    """The dust and the drag of each row, and the account of the dust.

    Attributes:
        dust_lb_ft2: on each row.
        ran_s: how long this set has filtered.
        dust_in_lb, hopper_lb, through_lb: brought by the air, fallen off, and lost through a tear, since the
            start; of the dust that hung on a set when it was changed ``carried_out_lb`` keeps count.
    """

    def __init__(self, build: Build, source: random.Random) -> None:
        self._source = source
        self._cloth = build.cloth
        self._cleaning = build.cleaning
        rows = build.cloth.rows
        self.dust_lb_ft2 = [0.0] * rows
        self._media = [physics.residual_drag(build.cleaning.header_psig)] * rows
        self._evenness = [max(0.3, 1.0 + build.cloth.unevenness * source.gauss(0.0, 1.0)) for _ in range(rows)]
        self._flows = [0.0] * rows
        self._row_ft2 = build.cloth.area_ft2 / rows
        self._media_factor = 1.0
        self._dust_factor = 1.0
        self._area = 1.0
        self.ran_s = build.cloth.age_d * _DAY_S
        self.dust_in_lb = self.hopper_lb = self.through_lb = self.carried_out_lb = 0.0

    def look(self, forces: Forces, viscosity: float) -> None:
        """Take over what acts on the cloth from now on; ``viscosity`` of the gas over that at its usual warmth."""
        self._media_factor = forces.residual * self._aged() * viscosity
        self._dust_factor = self._cloth.k2 * forces.k2 * viscosity
        self._area = forces.area

    def conductance(self) -> float:
        """Return how much air one inch of DP drives through the cloth, cfm per inH2O."""
        media, k2 = self._media_factor, self._dust_factor
        # The flows are kept as shares of one inch; laying dust needs each row's own.
        flows = [1.0 / (se * media + k2 * w) for se, w in zip(self._media, self.dust_lb_ft2, strict=True)]
        self._flows = flows
        return sum(flows) * self._row_ft2 * self._area

    def lay(self, dp_inh2o: float, load_lb_ft3: float, minutes: float) -> None:
        """Lay the dust that this DP brings in so many minutes (since ``conductance`` was asked)."""
        laid = dp_inh2o * load_lb_ft3 * minutes * self._area
        self.dust_lb_ft2 = [w + laid * flow for w, flow in zip(self.dust_lb_ft2, self._flows, strict=True)]
        self.dust_in_lb += laid * sum(self._flows) * self._row_ft2

    def lose(self, dust_lb: float) -> None:
        """Note what the air carried in and out again through a tear."""
        self.dust_in_lb += dust_lb
        self.through_lb += dust_lb

    def pulse(self, row: int, header_psig: float, forces: Forces) -> float:
        """Pulse one row with what the header has; returns how strong it was, 0 to 1."""
        cleaning = self._cleaning
        strength = (header_psig - cleaning.weak_psig) / (cleaning.strong_psig - cleaning.weak_psig)
        if strength <= 0.0:
            return 0.0
        strength = min(1.0, strength)
        share = self._cloth.knocked_off * self._evenness[row] * forces.knocked_off * strength * self._luck()
        off = self.dust_lb_ft2[row] * min(1.0, share)
        self.dust_lb_ft2[row] -= off
        self._media[row] = physics.residual_drag(header_psig)
        self._settle(row, off, 1.0 - (1.0 - self._cloth.settles_again) * (1.0 - forces.settles_again))
        return strength

    def change(self) -> None:
        """Put in a new set."""
        self.carried_out_lb += self.on_cloth_lb()
        self.dust_lb_ft2 = [0.0] * len(self.dust_lb_ft2)
        self._media = [physics.residual_drag(self._cleaning.header_psig)] * len(self._media)
        self.ran_s = 0.0

    def dust_evenly(self, dp_inh2o: float, flow_cfm: float) -> None:
        """Dust the rows, the next to be pulsed most, so that this flow has about this DP."""
        wanted = dp_inh2o * self._cloth.area_ft2 / flow_cfm
        mean = max(0.0, wanted - self.residual_drag()) / self._dust_factor
        rows = len(self.dust_lb_ft2)
        self.dust_lb_ft2 = [mean * (1.15 - 0.3 * row / max(1, rows - 1)) for row in range(rows)]

    def on_cloth_lb(self) -> float:
        """Return the dust hanging on all rows, pounds."""
        return sum(self.dust_lb_ft2) * self._row_ft2

    def mean_dust_lb_ft2(self) -> float:
        """Return the dust on the cloth, mean of the rows."""
        return sum(self.dust_lb_ft2) / len(self.dust_lb_ft2)

    def residual_drag(self) -> float:
        """Return the drag of the cleaned cloth, mean of the rows, inH2O/(ft/min)."""
        return sum(self._media) / len(self._media) * self._media_factor

    def _settle(self, row: int, off_lb_ft2: float, share: float) -> None:
        """Let a share of what came off settle on the other rows; the rest is in the hopper."""
        rows = len(self.dust_lb_ft2)
        if rows == 1:
            share = 0.0
        else:
            each = off_lb_ft2 * share / (rows - 1)
            own = self.dust_lb_ft2[row]
            self.dust_lb_ft2 = [w + each for w in self.dust_lb_ft2]
            self.dust_lb_ft2[row] = own
        self.hopper_lb += off_lb_ft2 * (1.0 - share) * self._row_ft2

    def _luck(self) -> float:
        """Return how well this one pulse does, 1 on average."""
        luck = self._cloth.luck
        return max(0.0, 1.0 + luck * self._source.gauss(0.0, 1.0)) if luck > 0.0 else 1.0

    def _aged(self) -> float:
        """Return the residual drag of this set over that of seasoned new cloth."""
        cloth = self._cloth
        ran_d = self.ran_s / _DAY_S
        fresh = (1.0 - cloth.fresh_share) * math.exp(-ran_d / cloth.seasoning_d)
        return 1.0 + cloth.gain * math.pow(ran_d / cloth.term_d, cloth.ageing.exponent) - fresh
