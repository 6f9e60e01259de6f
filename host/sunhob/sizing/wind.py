"""Wind on a dish reflector. Units: m, m/s, kg/m3, N, N m, degrees.

Attack 0 deg: wind straight into the hollow face; 180 deg: from behind. Forces are along the dish axis
(positive pushes the face back) and across it, in units of q A; the moment about the dish's lowest point
is in units of q A D. Between the rows the table is joined by straight lines.

The table is from memory: its greatest axial force (1.5 into the face, 1.0 from behind), lift (1.0 to 1.3
at 30 to 60 deg) and moment (0.15 of q A D at 110 to 135 deg) are those told of wind tunnel reports on
paraboloids (Levy & Kurtz, JPL 78-16, 1978; Cohen, Vellozzi & Suh, 1964; Peterka & Derickson,
SAND92-7009, 1992). Those reports were not at hand: treat every torque here as good to a third at best.

Where to check it, named from memory as well: ESDU 82031 (paraboloidal antennas: mean forces and moments, for
focal lengths of 0.15 to 0.5 diameters, solar concentrators named) with ESDU 82032 for gusts; TIA-222, the
annex on wind forces of reflector antennas. What they give against this table goes into build.wind_factor.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

_ATTACK_DEG = (0.0, 30.0, 45.0, 60.0, 75.0, 90.0, 110.0, 135.0, 160.0, 180.0)
_AXIAL = (1.5, 1.5, 1.47, 1.4, 1.0, 0.1, -0.5, -0.85, -0.97, -1.0)
_ACROSS = (0.0, 0.0, 0.0, 0.1, 0.2, 0.3, 0.25, 0.15, 0.05, 0.0)
_MOMENT = (0.0, 0.03, 0.05, 0.08, 0.09, 0.1, 0.15, 0.15, 0.08, 0.0)


def air_density_kg_m3(altitude_m: float) -> float:
    """Density of the ISA standard atmosphere, altitude_m from sea level (ISO 2533:1975), kg/m3."""
    lapse = 1.0 - 0.0065 * altitude_m / 288.15
    return float(1.225 * lapse**4.25588)


def pressure_pa(wind_m_s: ArrayLike, altitude_m: float = 0.0) -> NDArray:
    """Dynamic pressure q = rho v^2 / 2 in Pa."""
    return 0.5 * air_density_kg_m3(altitude_m) * np.square(np.asarray(wind_m_s, dtype=float))


def coefficients(attack_deg: ArrayLike) -> tuple[NDArray, NDArray, NDArray]:
    """(axial force, force across, moment about the lowest point) at attack 0..180 deg; no units."""
    at = np.asarray(attack_deg, dtype=float)
    axial, across, moment = (np.interp(at, _ATTACK_DEG, row) for row in (_AXIAL, _ACROSS, _MOMENT))
    return axial, across, moment


def lift(attack_deg: ArrayLike) -> NDArray:
    """Force square to the wind, in units of q A."""
    axial, across, _ = coefficients(attack_deg)
    at = np.radians(attack_deg)
    return axial * np.sin(at) - across * np.cos(at)


def drag(attack_deg: ArrayLike) -> NDArray:
    """Force along the wind, in units of q A."""
    axial, across, _ = coefficients(attack_deg)
    at = np.radians(attack_deg)
    return axial * np.cos(at) + across * np.sin(at)
