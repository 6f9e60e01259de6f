"""Faults of the further sensors, of the buses, and of drives that tell their motion by pulses: rows of the
library. Each names what must be fitted for it; a campaign's draw fits it.
"""

from __future__ import annotations

from collections.abc import Mapping

from .. import pins
from . import deeds, fitted_deeds
from .deeds import Deed
from .kind import Fault

_SUN = {"sensor.sun": True}
_ENCODER = {"sensor.axis1_encoder": True}
_WIND = {"sensor.wind_hz_per_m_s": 4.0}
_SUPPLY = {"sensor.supply_ratio": 6.0}
_PULSED = ("motor", "actuator")


def _sun() -> list[Fault]:
    rows = (
        ("open", "a diode of the sun sensor is open", 1.0, 1.0, ""),
        ("short", "a diode of the sun sensor is shorted", 1.0, 1.0, ""),
        ("dirty", "a diode of the sun sensor is dirty", 0.2, 0.9, "of true"),
        ("frozen", "the sun sensor stays where it was", 1.0, 1.0, ""),
        ("offset", "a pair of the sun sensor reads beside", -0.3, 0.3, "of full"),
        ("noisy", "the sun sensor jumps about", 0.01, 0.2, "of full"),
    )
    return [
        Fault(f"sun_{kind}", "sensor", words, fitted_deeds.sun(kind), fitted_deeds.sun_well, low, high, unit,
              fits=_SUN)
        for kind, words, low, high, unit in rows
    ]


def _put(name: str, words: str, part: str, field: str, fits: Mapping[str, object], value: object = True,
         low: float = 1.0, high: float = 1.0, unit: str = "", group: str = "sensor") -> Fault:
    """One field of a fitted part set to a value, or (None) to the severity."""
    return Fault(name, group, words, fitted_deeds.put(part, field, value), fitted_deeds.back(part, field),
                 low, high, unit, fits=fits)


def _tilt(name: str, part: str, setting: str, what: str) -> list[Fault]:
    fits: Mapping[str, object] = {setting: True}
    return [
        _put(f"{name}_frozen", f"the {what} stays where it was", part, "frozen", fits),
        _put(f"{name}_offset", f"the {what} has a bias", part, "bias_g", fits, None, -0.3, 0.3, "g"),
        _put(f"{name}_mute", f"the {what} no longer answers", part, "silent", fits),
    ]


def _pulses(axis: int) -> list[Fault]:
    pin = pins.PULSES[axis]
    rows: tuple[tuple[str, str, Deed, float, float, str], ...] = (
        ("low", "stays low", deeds.contact(pin, 0), 1.0, 1.0, ""),
        ("high", "stays high", deeds.contact(pin, 1), 1.0, 1.0, ""),
        ("bounce", "bounces", deeds.contact(pin, None), 0.1, 1.0, "of 6 ms"),
    )
    return [
        Fault(f"pulses{axis + 1}_{kind}", "sensor", f"the pulse line of axis {axis + 1} {words}", begin,
              deeds.contact_good(pin), low, high, unit, drives=_PULSED)
        for kind, words, begin, low, high, unit in rows
    ]


ROWS: tuple[Fault, ...] = (
    *_sun(),
    _put("sun_mute", "the converter of sun sensor and supply no longer answers", "second", "silent", _SUN),
    Fault("light_mute", "sensor", "the light converter no longer answers", fitted_deeds.light_mute,
          fitted_deeds.light_speaks),
    _put("encoder_frozen", "the encoder of axis 1 stays where it was", "encoder", "frozen", _ENCODER),
    _put("encoder_offset", "the encoder of axis 1 has turned on its shaft", "encoder", "offset_deg",
         _ENCODER, None, -30.0, 30.0, "deg"),
    _put("encoder_magnet", "the magnet of the encoder of axis 1 is gone", "encoder", "magnet", _ENCODER,
         False),
    _put("encoder_mute", "the encoder of axis 1 no longer answers", "encoder", "silent", _ENCODER),
    *_tilt("dish_tilt", "dish_tilt", "sensor.axis2_tilt", "accelerometer on the dish"),
    *_tilt("base_tilt", "base_tilt", "sensor.base_tilt", "accelerometer on the base"),
    _put("wind_stuck", "the anemometer's cups stand still", "wind", "stands", _WIND),
    _put("wind_noisy", "the anemometer's line takes up false pulses", "cups", "extra_hz", _WIND, None, 5.0,
         200.0, "Hz"),
    _put("wind_mute", "the anemometer's counter no longer answers", "wind", "silent", _WIND),
    _put("supply_high", "the supply is read too high", "supply", "reads_v", _SUPPLY, None, 0.5, 6.0, "V"),
    _put("supply_low", "the supply is read too low", "supply", "reads_v", _SUPPLY, None, -6.0, -0.5, "V"),
    _put("supply_open", "the supply's divider is open: it reads nothing", "supply", "open", _SUPPLY),
    _put("supply_sags", "the battery is nearly empty", "supply", "sag_v", _SUPPLY, None, 0.5, 4.0, "V",
         "supply"),
    Fault("bus_stuck", "controller", "the bus of clock, converters and further sensors is held",
          fitted_deeds.bus_stuck, fitted_deeds.bus_free),
    Fault("expander_mute", "sensor", "the port expander of keys and lamps no longer answers",
          fitted_deeds.expander(True), fitted_deeds.expander(False), board="esp32"),
    *_pulses(0),
    *_pulses(1),
)
