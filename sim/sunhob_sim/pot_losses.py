"""The pot's make, and the coefficients of what it loses in the present air.

Units: m, kg, deg C, W/K, W/(m2 K), kg/s, Pa. The lid has no mass of its own: its metal counts with the shell.
"""

import math
from dataclasses import dataclass

from . import water
from .heat_loss import film_coefficients, radiation_w_m2_k, sky_c, vapour_kg_m2_s

FINISHES = {"black": (0.90, 0.90), "bright": (0.30, 0.10)}  # light taken up, heat radiated; from memory
METALS_J_KG_K = {"steel": 480.0, "aluminium": 900.0, "iron": 450.0}  # handbook values, from memory
LID_GAP = 0.03  # share of an open pot's vapour that a lid lets out: common practice, no source
WET_EMISSIVITY = 0.95  # of water and wet food, handbook value from memory
_LID_GUESS_W_M2_K = 12.0  # over the lid, to place its temperature
_SLOPE_K = 0.5


@dataclass(frozen=True)
class PotData:
    """The pot's make: lengths in m, metal in kg, share of light taken up, share of heat radiated."""

    diameter_m: float = 0.24
    height_m: float = 0.16
    metal_kg: float = 1.5
    metal_j_kg_k: float = 900.0
    absorptance: float = 0.9
    emissivity: float = 0.9

    @property
    def bottom_m2(self) -> float:
        return math.pi / 4.0 * self.diameter_m**2

    @property
    def wall_m2(self) -> float:
        return math.pi * self.diameter_m * self.height_m

    @property
    def shell_j_k(self) -> float:
        return self.metal_kg * self.metal_j_kg_k


@dataclass(frozen=True)
class Air:
    """The air around the pot; humidity 0..1."""

    temp_c: float
    wind_m_s: float
    pressure_pa: float
    humidity: float


@dataclass(frozen=True)
class Losses:
    """Straight lines through the present losses.

    shell_w_k to the air; top_w_k to top_c (air and sky together); vapour_kg_s at vapour_c, growing by
    vapour_slope a kelvin; lid_share of the light on the lid that reaches the contents.
    """

    shell_w_k: float
    top_w_k: float
    top_c: float
    lid_share: float = 1.0
    vapour_kg_s: float = 0.0
    vapour_slope: float = 0.0
    vapour_c: float = 0.0


def losses(pot: PotData, shell_c: float, contents_c: float, lid: bool, wet: bool, air: Air) -> Losses:
    """The losses at these temperatures, with the lid on or off, over wet or dry contents."""
    wall, under, _ = film_coefficients(
        pot.diameter_m, pot.height_m, shell_c, air.temp_c, air.wind_m_s, air.pressure_pa)
    glow = radiation_w_m2_k(pot.emissivity, shell_c, air.temp_c)
    shell_w_k = pot.wall_m2 * (wall + glow) + pot.bottom_m2 * (under + glow)
    inner, surface = math.inf, contents_c
    if lid:
        inner = under_lid_w_m2_k(contents_c, wet)
        surface = air.temp_c + (contents_c - air.temp_c) * inner / (inner + _LID_GUESS_W_M2_K)
    _, _, top = film_coefficients(
        pot.diameter_m, pot.height_m, surface, air.temp_c, air.wind_m_s, air.pressure_pa)
    sky = sky_c(air.temp_c)
    glow = radiation_w_m2_k(pot.emissivity if lid else WET_EMISSIVITY, surface, sky)
    share = inner / (inner + top + glow) if lid else 1.0
    top_c = (top * air.temp_c + glow * sky) / (top + glow)
    top_w_k = pot.bottom_m2 * (top + glow) * share
    if not wet:
        return Losses(shell_w_k, top_w_k, top_c, share)
    area = pot.bottom_m2 * (LID_GAP if lid else 1.0)
    now, warmer = (area * vapour_kg_m2_s(top, c, air.temp_c, air.pressure_pa, air.humidity)
                   for c in (contents_c, contents_c + _SLOPE_K))
    now = max(now, 0.0)
    return Losses(shell_w_k, top_w_k, top_c, share, now, max(warmer - now, 0.0) / _SLOPE_K, contents_c)


def under_lid_w_m2_k(contents_c: float, wet: bool) -> float:
    """From the contents to the lid over them, W/(m2 K): air, radiation, and vapour that drips back.

    Dunkle (1961) for the air and vapour under a cooler cover, taken for a lid 5 K cooler; from memory.
    """
    if not wet:
        return 8.0  # air and radiation over dry food: common practice, no source
    warm = min(contents_c, 120.0)
    near, lid = water.vapour_pa(warm), water.vapour_pa(max(warm - 5.0, 0.1))
    lift = 5.0 + (near - lid) * (warm + water.KELVIN) / max(268900.0 - near, 5e4)
    film = 0.884 * lift ** (1 / 3)
    return float(film + 0.016273 * film * (near - lid) / 5.0 + 5.0)  # 5: radiation between wet faces
