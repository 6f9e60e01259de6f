"""The pot on the hob in the plant: true light into it, what the cook does to it, probes, and the record.

Units: s and us from the start of the run, deg C, W, kg; COLUMNS of the record say theirs.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .box import HeatBox
from .pot import Pot
from .pot_light import PotLight
from .probes import CONTENTS, UNDERSIDE, Probe
from .storage import MEDIA

if TYPE_CHECKING:
    from .plant import Plant

CALM_US = 10_000_000  # between looks at the pot while little changes
REST_US = 5_000_000
MOVE_US = 500_000
CALM_W, CALM_K = 0.02, 0.4  # change from look to look: share of the light on it, of its metal
COLUMNS = ("t_s", "contents_c", "underside_c", "water_kg", "boiled_kg", "absorbed_w", "cooked", "scorch",
           "on_hob", "lid")


class Hob:
    """Pot, light and probes. `probes[0]` is in the contents, `probes[1]` under the pot.

    on_hob: whether the pot stands at the focus; a lifted pot is unplugged, so both its probes are open.
    box: the retained-heat box, once the pot has gone into it.
    """

    def __init__(self, pot: Pot, light: PotLight, air_c: float, probe_lag_s: float = 8.0,
                 probe_noise_c: float = 0.15, seed: int = 1) -> None:
        self.pot, self.light, self.air_c = pot, light, air_c
        self.on_hob = True
        self.box: HeatBox | None = None
        self.probes = [Probe(pot.contents_c, probe_lag_s, probe_noise_c, 2 * seed),
                       Probe(pot.shell_c, probe_lag_s, probe_noise_c, 2 * seed + 1)]
        self._at_us = 0
        self._moving = 0
        self._calm = False
        self._watts = (0.0, 0.0)
        self._rows = {name: array("d") for name in COLUMNS}
        self.first_s: dict[str, float] = {}  # when it first boiled, was cooked, scorched, dry, too hot
        self._record(0.0)

    def place(self, plant: Plant, on_hob: bool) -> None:
        """The pot is set on the hob or taken off it; from the box it comes as warm as it has stayed."""
        self.follow(plant, now=True)
        if on_hob and self.box is not None:
            self.pot.become(self.box.temp_c, self.box.cooked)
            self.box = None
        if on_hob != self.on_hob:
            self.on_hob = on_hob
            self.follow(plant, now=True)

    def follow(self, plant: Plant, now: bool = False) -> None:
        """Bring the pot up to the plant's time, if that is worth it or `now` is asked for."""
        gone_us = plant.now_us - self._at_us
        moving = plant.moving
        due = MOVE_US if moving or self._moving else CALM_US if self._calm else REST_US
        if gone_us < due and not now and moving == self._moving:
            return
        self._moving = moving
        watts, before_c = self._light(plant), self.pot.shell_c
        if gone_us > 0:
            self._pass(plant, gone_us / 1e6, watts)
        self._calm = abs(watts[0] - self._watts[0]) <= CALM_W * watts[0] and (
            abs(self.pot.shell_c - before_c) < CALM_K)
        self._watts = watts
        self._at_us = plant.now_us
        self._record(plant.now_us / 1e6)

    def deed(self, do: str, value: float | None) -> None:
        """A deed of the cook at the pot: value in kg, percent or W/K as the scenario says."""
        pot = self.pot
        if do == "stir":
            pot.stir()
        elif do in ("lid_on", "lid_off"):
            pot.set_lid(do == "lid_on")
        elif do == "add_water":
            pot.add_water(value or 0.0, self.air_c)
        elif do == "add_food":
            pot.add_solids(value or 0.0, self.air_c)
        elif do == "serve":
            pot.serve((value or 0.0) / 100.0)
        elif do == "box":
            heat_j_k = pot.stored_j_k()
            self.on_hob = False
            self.box = HeatBox(pot.contents_c, heat_j_k, value or 1.0, pot.food, pot.cooked)

    def let(self, dt_s: float, watts: tuple[float, float], wind_m_s: float) -> None:
        """Let `dt_s` pass for the pot, or for its box, under so much light (body, lid)."""
        if self.box is not None:
            self.box.step(dt_s, self.air_c)
        else:
            self.pot.step(dt_s, watts[0], self.air_c, wind_m_s, watts[1])

    def probe_c(self, index: int, now_us: int) -> float | str:
        """What probe `index` would read now: deg C, or 'open', 'short', 'frozen'."""
        probe = self.probes[index]
        if probe.fault is None and not self.on_hob:
            return "open"
        return probe.read(now_us)

    def record(self) -> dict[str, NDArray]:
        """Columns of the pot's true state so far (see COLUMNS)."""
        return {name: np.array(values) for name, values in self._rows.items()}

    def state(self) -> dict[str, Any]:
        """The pot now, for the result: temperatures, water, cooking, and where the heat went."""
        pot, book = self.pot, self.pot.ledger
        out: dict[str, Any] = {
            "food": pot.food, "contents_c": round(pot.contents_c, 2), "underside_c": round(pot.shell_c, 2),
            "water_kg": round(pot.water_kg, 4), "boiled_off_kg": round(book.boiled_kg, 4),
            "cooked": round(pot.cooked, 4), "scorch": round(pot.scorch, 4),
            "absorbed_j": round(book.absorbed_j), "lost_j": round(book.lost_j),
            "steam_j": round(book.steam_j), "boil_c": round(pot.boil_c, 2),
            "air_c": self.air_c,
        }
        out.update({f"{name}_at_s": round(at, 1) for name, at in self.first_s.items()})
        if self.box is not None:
            out["box"] = {"contents_c": round(self.box.temp_c, 2), "cooked": round(self.box.cooked, 4)}
        return out

    def _light(self, plant: Plant) -> tuple[float, float]:
        if not self.on_hob or plant.covered:
            return 0.0, 0.0
        t = plant.now_us / 1e6
        return self.light.watts(plant.enu(), plant.sky.sun_at(t), plant.sky.beam_w_m2(t))

    def _pass(self, plant: Plant, dt_s: float, watts: tuple[float, float]) -> None:
        body, lid = ((a + b) / 2.0 for a, b in zip(self._watts, watts, strict=True))
        self.let(dt_s, (body, lid), plant.wind.speed_at(plant.now_us / 1e6))
        if self.box is not None:
            return
        self.probes[CONTENTS].follow(self.pot.contents_c, plant.now_us)
        self.probes[UNDERSIDE].follow(self.pot.shell_c, plant.now_us)

    def _record(self, t_s: float) -> None:
        pot, box = self.pot, self.box
        cooked = box.cooked if box else pot.cooked
        row = (t_s, box.temp_c if box else pot.contents_c, box.temp_c if box else pot.shell_c, pot.water_kg,
               pot.ledger.boiled_kg, sum(self._watts), cooked, pot.scorch, self.on_hob, pot.lid)
        for values, one in zip(self._rows.values(), row, strict=True):
            values.append(one)
        dry = pot.dry and sum(self._watts) > 0.0 and pot.food not in MEDIA
        seen = (("boiled", pot.boiling), ("cooked", cooked >= 1.0), ("scorched", pot.scorch >= 1.0),
                ("dry", dry), ("too_hot", pot.too_hot))
        for name, there in seen:
            if there and name not in self.first_s:
                self.first_s[name] = t_s
