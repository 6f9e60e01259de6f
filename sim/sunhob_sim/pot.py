"""A pot on the stand: its metal and what is in it, heated by the dish, cooled by air, sky and steam.

Units: s, deg C, W, J, kg, m. Two nodes, the shell (metal, underside) and the contents. Over a step their
losses are linear, so that it is exact whatever its length; energies are then booked to the last joule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from . import foods, water
from .pot_losses import Air, Losses, PotData, losses
from .storage import CONTENTS

LONGEST_S = 10.0
FITTINGS_J_K = 20.0  # probe and spoon in the food; keeps an empty pot's contents finite
FILM_KG_M2 = 0.5  # less water than this leaves dry patches on the bottom: common practice, no source
LAST_DROPS = 0.05  # share of the bottom under the last of the water
EMPTY_W_M2_K = 8.0  # hot metal to the air and the probe in an empty pot: common practice, no source
REFRESH_K = 1.0  # coefficients are found anew when a node has moved this much
SCORCH_C, SCORCH_S, SCORCH_J_MOL = 150.0, 300.0, 120e3  # a crust is burnt after so long; common practice


@dataclass
class Ledger:
    """Where the heat went since the pot was filled, J. `put` is what came and went with food and water."""

    absorbed_j: float = 0.0
    lost_j: float = 0.0
    steam_j: float = 0.0
    put_j: float = 0.0
    boiled_kg: float = 0.0


@dataclass
class Pot:
    """State of the pot. Temperatures in deg C, masses in kg; `cooked`, `scorch`: 1 when done, burnt."""

    data: PotData = field(default_factory=PotData)
    food: str = "water"
    solids_kg: float = 0.0
    water_kg: float = 2.0
    start_c: float = 25.0
    pressure_pa: float = 101325.0
    humidity: float = 0.4
    lid: bool = True

    def __post_init__(self) -> None:
        self.shell_c = self.contents_c = self.start_c
        self.cooked = self.scorch = 0.0
        self.unstirred_s = 0.0
        self.ledger = Ledger()
        self.boiling = False
        self.boil_c = water.boiling_c(self.pressure_pa)
        self._losses: Losses
        self._forget()
        self._start_j = self.stored_j()

    # what the cook does

    def add_water(self, kg: float, temp_c: float) -> None:
        """Pour water in and stir."""
        self._mix(kg * water.liquid_j_kg(temp_c), water_kg=kg)

    def add_solids(self, kg: float, temp_c: float) -> None:
        """More of the same food, raw, and stir: how far it is cooked is then the mean of both."""
        self.cooked = min(self.cooked, 1.0) * self.solids_kg / (self.solids_kg + kg)
        self._mix(kg * self._food.solids_j_kg_k * temp_c, solids_kg=kg)

    def serve(self, share: float) -> None:
        """Take this share (0..1) of everything out."""
        out_j = share * (self._contents_j(self.contents_c) - FITTINGS_J_K * self.contents_c)
        self._mix(-out_j, water_kg=-share * self.water_kg, solids_kg=-share * self.solids_kg)

    def stir(self) -> None:
        """Lift what lies on the bottom."""
        self.unstirred_s = 0.0
        self._forget()

    def set_lid(self, on: bool) -> None:
        """Lid on or off."""
        self.lid = on
        self._forget()

    def become(self, temp_c: float, cooked: float) -> None:
        """It has been elsewhere, and is so warm now; what it lost there is booked."""
        before_j = self.stored_j()
        self.shell_c = self.contents_c = temp_c
        self.cooked = cooked
        self.boiling = False
        self.ledger.lost_j += before_j - self.stored_j()
        self.stir()

    # what the bench asks

    def stored_j(self) -> float:
        """Heat in metal and contents, J above 0 deg C."""
        return self.data.shell_j_k * self.shell_c + self._contents_j(self.contents_c)

    def stored_j_k(self) -> float:
        """Heat that metal and contents take for each K, J/K."""
        return self.data.shell_j_k + self._contents_j_k(self.contents_c)

    def imbalance_j(self) -> float:
        """Heat that came in and is found nowhere, J: 0 but for rounding."""
        book = self.ledger
        return book.absorbed_j + book.put_j - (self.stored_j() - self._start_j) - book.lost_j - book.steam_j

    @property
    def too_hot(self) -> bool:
        """Whether what is in it is beyond what it bears: oil that smokes."""
        return self.solids_kg > 0.0 and self.contents_c > self._food.bears_c

    @property
    def dry(self) -> bool:
        return self.water_kg <= 0.0

    def step(self, dt_s: float, absorbed_w: float, air_c: float, wind_m_s: float = 0.0,
             lid_w: float = 0.0) -> None:
        """Let `dt_s` pass with so much light taken up by wall and underside, and `lid_w` by the lid."""
        left = dt_s
        while left > 1e-9:
            left -= self._part(min(left, LONGEST_S), absorbed_w, lid_w, air_c, wind_m_s)

    # inside

    @property
    def _food(self) -> foods.Food:
        return CONTENTS[self.food]

    def _mix(self, heat_j: float, water_kg: float = 0.0, solids_kg: float = 0.0) -> None:
        whole_j = self._contents_j(self.contents_c) + heat_j
        self.water_kg = max(self.water_kg + water_kg, 0.0)
        self.solids_kg = max(self.solids_kg + solids_kg, 0.0)
        self.ledger.put_j += heat_j
        self.contents_c = self._temp_of(self._boil_off(whole_j), self.contents_c)
        self.stir()

    def _plain_j_k(self) -> float:
        return self.solids_kg * self._food.solids_j_kg_k + FITTINGS_J_K

    def _contents_j(self, temp_c: float) -> float:
        wet = self.water_kg * water.liquid_j_kg(temp_c) if self.water_kg > 0.0 else 0.0
        return wet + self._plain_j_k() * temp_c

    def _contents_j_k(self, temp_c: float) -> float:
        wet = self.water_kg * water.cp_j_kg_k(temp_c) if self.water_kg > 0.0 else 0.0
        return wet + self._plain_j_k()

    def _temp_of(self, heat_j: float, near_c: float) -> float:
        """Temperature at which the contents hold `heat_j`: Newton on a nearly straight line."""
        temp = near_c
        for _ in range(6):
            miss = (heat_j - self._contents_j(temp)) / self._contents_j_k(temp)
            temp += miss
            if abs(miss) < 1e-7:
                break
        return temp

    def _forget(self) -> None:
        self._seen = (math.nan, math.nan, math.nan, math.nan)

    def _refresh(self, air_c: float, wind_m_s: float) -> None:
        """Loss coefficients of both nodes, kept until something they hang on has moved."""
        seen = (self.shell_c, self.contents_c, air_c, 3.0 * wind_m_s)
        if all(abs(a - b) < REFRESH_K for a, b in zip(seen, self._seen, strict=True)):
            return
        self._seen = seen
        air = Air(air_c, wind_m_s, self.pressure_pa, self.humidity)
        self._losses = losses(self.data, self.shell_c, self.contents_c, self.lid, not self.dry, air)

    def _inner_w_k(self) -> float:
        """From shell to contents, W/K."""
        one = self.data
        whole = self.water_kg + self.solids_kg
        if whole <= 0.0:
            return EMPTY_W_M2_K * (one.bottom_m2 + one.wall_m2)
        filled = min(whole / 1000.0 / (one.bottom_m2 * one.height_m), 1.0)
        area = one.bottom_m2 + one.wall_m2 * filled
        if self.solids_kg <= 0.0:
            area *= min(max(self.water_kg / (FILM_KG_M2 * one.bottom_m2), LAST_DROPS), 1.0)
        if self.dry and self._food.dry_w_m2_k:
            return area * self._food.dry_w_m2_k
        thick, gap = 1.0, self.shell_c - self.contents_c
        if not self.dry:
            thick = foods.thickness(self._food, self.solids_kg, self.water_kg, self.cooked)
        return area * foods.inner_w_m2_k(thick, self.boiling, gap, self.unstirred_s)

    def _part(self, dt_s: float, absorbed_w: float, lid_w: float, air_c: float, wind_m_s: float) -> float:
        """One short step; returns how long it was [s]: it ends where the water does."""
        self._refresh(air_c, wind_m_s)
        loss = self._losses
        inner = self._inner_w_k()
        into_w = lid_w * loss.lid_share
        shell_c, contents_c, mean_shell, mean_contents = self.shell_c, self.contents_c, 0.0, 0.0
        steam_w = 0.0
        if self.boiling:
            shell_c, mean_shell = self._shell_alone(dt_s, absorbed_w, inner, air_c)
            top_w = loss.top_w_k * (self.boil_c - loss.top_c)
            steam_w = into_w + inner * (mean_shell - self.boil_c) - top_w
            mean_contents = self.boil_c
            last_j = self.water_kg * water.latent_j_kg(self.boil_c)
            if steam_w * dt_s > last_j and dt_s > 0.02:
                dt_s = max(last_j / steam_w, 0.01)
                shell_c, mean_shell = self._shell_alone(dt_s, absorbed_w, inner, air_c)
        if not self.boiling or steam_w < 0.0:
            self.boiling = False
            (shell_c, contents_c), (mean_shell, mean_contents) = self._both(
                dt_s, absorbed_w, into_w, inner, air_c)
            if contents_c > self.boil_c + 0.02 and not self.dry and dt_s > 0.02:
                dt_s = max(dt_s * (self.boil_c - self.contents_c) / (contents_c - self.contents_c), 0.01)
                (shell_c, contents_c), (mean_shell, mean_contents) = self._both(
                    dt_s, absorbed_w, into_w, inner, air_c)
        self._book(dt_s, absorbed_w, lid_w, inner, air_c, mean_shell, mean_contents, shell_c)
        self._age(dt_s)
        return dt_s

    def _shell_alone(self, dt_s: float, absorbed_w: float, inner: float, air_c: float) -> tuple[float, float]:
        """Shell after and on average over the step while the contents boil."""
        both = self._losses.shell_w_k + inner
        end = (absorbed_w + self._losses.shell_w_k * air_c + inner * self.boil_c) / both
        x = both * dt_s / self.data.shell_j_k
        start = self.shell_c - end
        return end + start * math.exp(-x), end - start * math.expm1(-x) / x

    def _both(self, dt_s: float, absorbed_w: float, into_w: float, inner: float,
              air_c: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Both nodes after and on average over the step: the exact solution of the two linear equations."""
        shell, contents = self.data.shell_j_k, self._contents_j_k(self.contents_c)
        latent = water.latent_j_kg(self._losses.vapour_c) if not self.dry else 0.0
        slope_w_k = self._losses.vapour_slope * latent
        steady_w = self._losses.vapour_kg_s * latent - slope_w_k * self._losses.vapour_c
        a, b = (self._losses.shell_w_k + inner) / shell, inner / shell
        c, d = inner / contents, (self._losses.top_w_k + slope_w_k + inner) / contents
        u = (absorbed_w + self._losses.shell_w_k * air_c) / shell
        v = (into_w + self._losses.top_w_k * self._losses.top_c - steady_w) / contents
        det = a * d - b * c
        end_s, end_c = (d * u + b * v) / det, (c * u + a * v) / det
        mid, split = (a + d) / 2.0, math.sqrt(((a - d) / 2.0) ** 2 + b * c) + 1e-12
        fast, slow = mid + split, det / (mid + split)
        s0, c0 = self.shell_c - end_s, self.contents_c - end_c
        quick_s = ((a - slow) * s0 - b * c0) / (fast - slow)
        quick_c = ((d - slow) * c0 - c * s0) / (fast - slow)
        e1, e2 = math.exp(-fast * dt_s), math.exp(-slow * dt_s)
        f1, f2 = -math.expm1(-fast * dt_s) / (fast * dt_s), -math.expm1(-slow * dt_s) / (slow * dt_s)
        after = end_s + quick_s * e1 + (s0 - quick_s) * e2, end_c + quick_c * e1 + (c0 - quick_c) * e2
        mean = end_s + quick_s * f1 + (s0 - quick_s) * f2, end_c + quick_c * f1 + (c0 - quick_c) * f2
        return after, mean

    def _book(self, dt_s: float, absorbed_w: float, lid_w: float, inner: float, air_c: float,
              mean_shell: float, mean_contents: float, shell_c: float) -> None:
        """Book the flows of the step and find the temperatures that the energies then stand for."""
        book = self.ledger
        shell_lost = self._losses.shell_w_k * (mean_shell - air_c) * dt_s
        top_lost = self._losses.top_w_k * (mean_contents - self._losses.top_c) * dt_s
        across = inner * (mean_shell - mean_contents) * dt_s
        into = lid_w * self._losses.lid_share * dt_s
        book.absorbed_j += (absorbed_w + lid_w) * dt_s
        book.lost_j += shell_lost + top_lost + lid_w * dt_s - into
        self.shell_c += (absorbed_w * dt_s - shell_lost - across) / self.data.shell_j_k
        heat = self._contents_j(self.contents_c) + across + into - top_lost
        if not self.dry and not self.boiling:
            loss = self._losses
            rate = loss.vapour_kg_s + loss.vapour_slope * (mean_contents - loss.vapour_c)
            heat = self._steam_off(heat, min(rate * dt_s, self.water_kg), self.contents_c)
        self.contents_c = self._temp_of(self._boil_off(heat), self.contents_c)

    def _boil_off(self, heat_j: float) -> float:
        """Turn what the contents hold above the boil into steam; returns what they keep [J]."""
        full = self._contents_j(self.boil_c)
        self.boiling = not self.dry and heat_j >= full - 1e-3 * self._contents_j_k(self.boil_c)
        if not self.boiling or heat_j <= full:
            return heat_j
        return self._steam_off(heat_j, min((heat_j - full) / water.latent_j_kg(self.boil_c), self.water_kg),
                               self.boil_c)

    def _steam_off(self, heat_j: float, kg: float, temp_c: float) -> float:
        """Let `kg` of water go as steam from contents that hold `heat_j`; returns what they then hold [J]."""
        self.water_kg -= kg
        if self.water_kg < 1e-6:
            kg, self.water_kg = kg + self.water_kg, 0.0
            self._forget()
        out = kg * (water.liquid_j_kg(temp_c) + water.latent_j_kg(temp_c))
        self.ledger.steam_j += out
        self.ledger.boiled_kg += kg
        return heat_j - out

    def _age(self, dt_s: float) -> None:
        self.unstirred_s += dt_s
        if self.solids_kg <= 0.0 or self._food.cook_min <= 0.0:
            return
        self.cooked += dt_s * foods.cook_rate_per_s(self._food, min(self.contents_c, self.boil_c))
        if self.shell_c > self.boil_c + 5.0:
            slope = SCORCH_J_MOL / foods.GAS
            warm = 1.0 / (SCORCH_C + water.KELVIN) - 1.0 / (self.shell_c + water.KELVIN)
            self.scorch += dt_s / SCORCH_S * math.exp(slope * warm)
