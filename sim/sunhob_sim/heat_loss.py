"""What a hot pot loses to air and sky, and what an open one loses by its vapour: published correlations.

Units: m, m/s, deg C, W/(m2 K), W/m2, kg/(m2 s), Pa. Equation and table numbers without a source of their own
are of Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 5th/6th ed., from memory.
"""

import math
from dataclasses import dataclass

from .water import KELVIN, vapour_pa

SIGMA = 5.670374419e-8  # Stefan-Boltzmann, W/(m2 K4), CODATA 2018
GRAVITY = 9.80665
GAS = 8.314462618
_AIR_KG_MOL, _WATER_KG_MOL = 0.0289652, 0.01801528
AIR_CP = 1007.0  # J/(kg K), dry air 250 to 400 K within 0.7 %
STILL_M_S = 0.05  # below this no air of a yard ever is


@dataclass(frozen=True)
class AirFilm:
    """Dry air at a film temperature: W/(m K), m2/s, kg/m3."""

    conductivity: float
    viscosity: float
    density: float
    kelvin: float

    @property
    def diffusivity(self) -> float:
        """Thermal diffusivity, m2/s."""
        return self.conductivity / (self.density * AIR_CP)

    @property
    def prandtl(self) -> float:
        return self.viscosity / self.diffusivity


def air_film(temp_c: float, pressure_pa: float) -> AirFilm:
    """Air at `temp_c`: Sutherland's law, constants of White, Viscous Fluid Flow, tables 1-2, 1-3."""
    t = temp_c + KELVIN
    density = pressure_pa * _AIR_KG_MOL / (GAS * t)
    rise = (t / 273.0) ** 1.5
    viscosity = 1.716e-5 * rise * (273.0 + 111.0) / (t + 111.0)
    return AirFilm(0.0241 * rise * (273.0 + 194.0) / (t + 194.0), viscosity / density, density, t)


def rayleigh(air: AirFilm, difference_k: float, length_m: float) -> float:
    """Rayleigh number of a surface so much hotter than the air."""
    lift = GRAVITY * abs(difference_k) / air.kelvin
    return lift * length_m**3 / (air.viscosity * air.diffusivity)


def cylinder_nusselt(reynolds: float, prandtl: float) -> float:
    """Cylinder across the wind: Churchill & Bernstein, J. Heat Transfer 99 (1977) 300; Re Pr > 0.2."""
    root = 0.62 * math.sqrt(reynolds) * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25
    return 0.3 + root * (1 + (reynolds / 282000) ** 0.625) ** 0.8


def plate_nusselt(reynolds: float, prandtl: float) -> float:
    """Flat plate along the wind, laminar mean: Pohlhausen, eq. 7.30; Re below 5e5."""
    return 0.664 * math.sqrt(reynolds) * prandtl ** (1 / 3)


def wall_nusselt(ra: float, prandtl: float) -> float:
    """Upright wall in still air: Churchill & Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, eq. 9.26."""
    return (0.825 + 0.387 * ra ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2


def up_nusselt(ra: float) -> float:
    """Hot plate facing up, length = area / edge: Lloyd & Moran, J. Heat Transfer 96 (1974) 443."""
    return max(0.54 * ra**0.25, 0.15 * ra ** (1 / 3)) if ra > 1e7 else 0.54 * ra**0.25


def down_nusselt(ra: float) -> float:
    """Hot plate facing down, length = area / edge: McAdams, eq. 9.32 of the 5th ed.; Ra 1e5 to 1e10."""
    return 0.27 * ra**0.25


def mixed(forced: float, still: float) -> float:
    """Both kinds of convection at once: the cubes add (section 9.9)."""
    return float((forced**3 + still**3) ** (1 / 3))


def film_coefficients(diameter_m: float, height_m: float, surface_c: float, air_c: float, wind_m_s: float,
                      pressure_pa: float) -> tuple[float, float, float]:
    """Convection from wall, underside and top of an upright cylinder, W/(m2 K)."""
    air = air_film((surface_c + air_c) / 2.0, pressure_pa)
    gap, edge, pr = surface_c - air_c, diameter_m / 4.0, air.prandtl
    wind = max(wind_m_s, STILL_M_S)
    across = cylinder_nusselt(wind * diameter_m / air.viscosity, pr) / diameter_m
    along = plate_nusselt(wind * diameter_m / air.viscosity, pr) / diameter_m
    still = rayleigh(air, gap, edge)
    wall = mixed(across, wall_nusselt(rayleigh(air, gap, height_m), pr) / height_m)
    hot_top, hot_under = (up_nusselt, down_nusselt) if gap >= 0 else (down_nusselt, up_nusselt)
    under, top = mixed(along, hot_under(still) / edge), mixed(along, hot_top(still) / edge)
    return wall * air.conductivity, under * air.conductivity, top * air.conductivity


def sky_c(air_c: float) -> float:
    """Temperature of the clear sky to radiation: Swinbank, Q. J. R. Met. Soc. 89 (1963) 339."""
    return float(0.0552 * (air_c + KELVIN) ** 1.5 - KELVIN)


def radiation_w_m2_k(emissivity: float, surface_c: float, around_c: float) -> float:
    """Radiation to surroundings as a coefficient on the difference: e s (T1 + T2)(T1^2 + T2^2)."""
    a, b = surface_c + KELVIN, around_c + KELVIN
    return emissivity * SIGMA * (a + b) * (a * a + b * b)


def vapour_kg_m2_s(film_w_m2_k: float, surface_c: float, air_c: float, pressure_pa: float,
                   humidity: float) -> float:
    """Vapour from an open wet surface, kg/(m2 s), by the likeness of heat and mass transfer.

    h / h_m = rho cp Le^(2/3) (eq. 6.92); diffusivity of vapour in air 0.26e-4 m2/s at 298 K and 1 atm, as
    T^1.5 / p (table A.8). Stefan's own flow of the vapour is left out: with it the rate near the boil is far
    above what was measured, without it within 15 % of Shah's correlation from 40 to 94 deg C.
    """
    air = air_film((surface_c + air_c) / 2.0, pressure_pa)
    diffusivity = 0.26e-4 * (air.kelvin / 298.0) ** 1.5 * 101325.0 / pressure_pa
    h_m = film_w_m2_k / (air.density * AIR_CP * (air.diffusivity / diffusivity) ** (2 / 3))
    pull_pa = min(vapour_pa(surface_c), pressure_pa) - humidity * vapour_pa(air_c)
    return h_m * pull_pa * _WATER_KG_MOL / (GAS * air.kelvin)
