"""Water as a pot sees it: boiling, enthalpy and steam, tabulated once from IAPWS-IF97.

Units: deg C, Pa, J/kg, J/(kg K), kg/m3. Saturated liquid from 0.1 to 180 deg C, linear between steps of 1 K;
the pressure of the liquid above its saturation changes its enthalpy by less than 0.03 % in a kitchen.
Standard atmosphere: p = 101325 (1 - 0.0065 h / 288.15)^5.25588 Pa (ISO 2533), below 11 km.
"""

from functools import cache

KELVIN = 273.15
_LOW_C, _HIGH_C = 0, 180
_NO_COLDER_C = 0.1  # the saturation line of IF97 begins at 0 deg C
Row = list[float]


@cache
def _tables() -> tuple[Row, Row, Row]:
    """Enthalpy [J/kg] of the liquid, latent heat [J/kg] and saturation pressure [Pa] at each whole deg C."""
    from iapws import IAPWS97  # takes half a second to load: only where a pot is cooked

    liquid, latent, pressure = [], [], []
    for c in range(_LOW_C, _HIGH_C + 1):
        wet, dry = (IAPWS97(T=max(float(c), _NO_COLDER_C) + KELVIN, x=x) for x in (0, 1))
        liquid.append(float(wet.h) * 1e3)
        latent.append(float(dry.h - wet.h) * 1e3)
        pressure.append(float(wet.P) * 1e6)
    return liquid, latent, pressure


def _at(row: Row, temp_c: float) -> float:
    i = min(max(int(temp_c) - _LOW_C, 0), len(row) - 2)
    return row[i] + (temp_c - _LOW_C - i) * (row[i + 1] - row[i])


def liquid_j_kg(temp_c: float) -> float:
    """Enthalpy of liquid water at `temp_c`, J/kg above that at the triple point."""
    return _at(_tables()[0], temp_c)


def cp_j_kg_k(temp_c: float) -> float:
    """Specific heat of liquid water, J/(kg K), as the slope of the enthalpy over the kelvin it lies in."""
    row = _tables()[0]
    i = min(max(int(temp_c), 1), len(row) - 2)
    return row[i + 1] - row[i]


def latent_j_kg(temp_c: float) -> float:
    """Heat that turns 1 kg of water at `temp_c` into steam, J/kg."""
    return _at(_tables()[1], temp_c)


def vapour_pa(temp_c: float) -> float:
    """Saturation pressure at `temp_c`, Pa."""
    return _at(_tables()[2], temp_c)


def boiling_c(pressure_pa: float) -> float:
    """Temperature at which water boils at `pressure_pa`, deg C."""
    from iapws import IAPWS97

    return float(IAPWS97(P=pressure_pa / 1e6, x=0).T) - KELVIN


def air_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere at an altitude in m, Pa."""
    return float(101325.0 * (1.0 - 0.0065 * altitude_m / 288.15) ** 5.25588)
