"""Where water boils. Units: Pa, milli-degC."""

import math

_MMHG_PA = 133.322
# Antoine equation of water from 1 to 100 degC, mmHg and degC: from memory, held against IAPWS by the tests.
_A, _B, _C = 8.07131, 1730.63, 233.426


def boil_mc(pressure_pa):
    """Boiling point of water at a pressure of 30 to 110 kPa, in whole hundredths of a kelvin. [milli-degC]"""
    celsius = _B / (_A - math.log10(pressure_pa / _MMHG_PA)) - _C
    return int(celsius * 100.0 + 0.5) * 10
