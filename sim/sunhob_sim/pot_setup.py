"""The pot of a scenario, put on the hob. Units: kg, deg C, mm, m.

What the scenario leaves open stands in the cooker's settings: the true pot is then the one the board
believes in.
"""

from sunhob.optics.geometry import optics_of
from sunhob.settings import Cooker

from .hob import Hob
from .pot import Pot
from .pot_light import PotLight, Progress
from .pot_losses import FINISHES, METALS_J_KG_K, PotData
from .scenario import Scenario
from .water import air_pressure_pa


def pot_of(scenario: Scenario, cooker: Cooker) -> Pot:
    """Pot and food of a scenario as they are at its start."""
    given, air, optics = scenario.pot, scenario.air, optics_of(cooker)
    take, glow = optics.bottom_absorptance, FINISHES["black"][1]
    if given.finish is not None:
        take, glow = FINISHES[given.finish]
    data = PotData(optics.pot_diameter_m, optics.pot_height_m, given.metal_kg,
                   METALS_J_KG_K[given.metal], take, glow)
    start = air.temp_c if given.start_c is None else given.start_c
    return Pot(data, given.food, given.food_kg, given.water_kg, start,
              air_pressure_pa(cooker.site.altitude_m), given.humidity, given.lid)


def hob_of(scenario: Scenario, cooker: Cooker, progress: Progress | None = None) -> Hob:
    """Pot, food and light of a scenario; `progress` is told (parts done, parts in all) of a new ray trace."""
    given, optics = scenario.pot, optics_of(cooker)
    if given.finish is not None:
        take = FINISHES[given.finish][0]
        optics = optics.model_copy(update={
            f"{part}_absorptance": take for part in ("bottom", "wall", "lid")})
    light = PotLight(optics, given.offset_mm, given.offset_bearing_deg, progress)
    return Hob(pot_of(scenario, cooker), light, scenario.air.temp_c,
               given.probe_lag_s, given.probe_noise_c, scenario.seed)
