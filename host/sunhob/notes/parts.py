"""The bill of parts by rating, from what `sunhob size` finds for a cooker. Units in the words."""

from __future__ import annotations

from typing import Any

from sunhob.leave_times import leave_times
from sunhob.sizing.judge import size

from .added import added_parts
from .parts_light import light_parts
from .pulse_drives import pulse_parts

HEAD = """# Parts by rating

This page is made by `make notes` from `sunhob size`, for the built-in invented dish: {diameter:g} m wide,
focal length {focal:g} m, {lifted:g} kg on axis 2, mean wind {wind:g} m/s with gusts of {gust:.3g} m/s. **Run
`sunhob size your.toml` for yours** and take its numbers. Wind coefficients are from memory, good to a third:
check them against ESDU 82031 or TIA-222 (named from memory), and set `build.wind_factor`. A strength sum of
your frame is not in here. Ask somebody licensed where the law or your doubt says so.

| part | how many | rating |
|---|---|---|
"""


def parts_page(cooker: Any, figures: dict[str, Any]) -> str:
    """The whole page. figures: those kept of the traced dish."""
    found = size(cooker, leave_times(cooker), figures["steepest_per_deg"])
    build, supply, dish = cooker.build, cooker.supply, cooker.dish
    head = HEAD.format(
        diameter=dish.aperture_diameter_m,
        focal=dish.focal_length_m,
        lifted=build.lifted_kg,
        wind=found["working_wind_m_s"],
        gust=found["gust_m_s"],
    )
    rows = [*_drive_rows(cooker, found), *_supply_rows(supply, found), *_RATED, *light_parts(cooker, figures)]
    table = head + "\n".join(f"| {a} | {b} | {c} |" for a, b, c in rows) + "\n"
    return table + _tail(found) + pulse_parts(cooker, found["drives"][1]["torque_needed_n_m"]) + added_parts()


def _drive_rows(cooker: Any, found: dict[str, Any]) -> list[tuple[str, str, str]]:
    rows = []
    needs = {f["name"]: f for f in found["findings"]}
    for drive in found["drives"]:
        n = drive["axis"]
        axis = getattr(cooker, f"axis{n}")
        ratio = getattr(cooker.build, f"gear{n}_ratio")
        stand = next(f for name, f in needs.items() if name.startswith(f"axis {n}: torque to stand"))
        lead = next(f for name, f in needs.items() if name.startswith(f"axis {n}: lead angle"))
        rows += [
            (
                f"gear of axis {n}",
                "1",
                f"worm, {ratio:g} to 1 (at least {drive['gear_ratio_needed']:.0f}); lead "
                f"angle under {lead['needed']:.1f} deg, so that it holds without power; stands "
                f"{stand['needed']:.0f} N m; play under {axis.backlash_deg:g} deg",
            ),
            (
                f"step motor of axis {n}",
                "1",
                f"{getattr(cooker.build, f'motor{n}_torque_n_m'):g} N m at "
                f"{60 * drive['motor_turns_per_s']:.0f} turns a minute",
            ),
            (
                f"driver of axis {n}",
                "1",
                f"{axis.steps_per_turn / ratio:.0f} steps a turn of the motor "
                "(200 full steps of 16); inputs that take 3.3 V",
            ),
        ]
    return rows


def _supply_rows(supply: Any, found: dict[str, Any]) -> list[tuple[str, str, str]]:
    energy = found["energy"]
    return [
        (
            "battery",
            "1",
            f"{supply.battery_v:g} V, {supply.battery_ah:g} Ah; a day takes {energy['day_wh']:.0f} Wh, "
            f"so it lasts {energy['days_alone']:.1f} days alone",
        ),
        (
            "solar panel and charger",
            "1",
            f"{supply.panel_w:g} W in full sun; charger made for the battery's kind",
        ),
        (
            "main fuse",
            "1",
            f"at the battery's pole; {_fuse_a(supply):g} A, slow, direct current, for "
            f"{2 * supply.battery_v:.0f} V or more; breaks 1000 A or more",
        ),
        (
            "supply of the board",
            "1",
            f"5 V, 1 A, from up to {1.2 * supply.battery_v:.0f} V; fed from the battery behind the main fuse "
            "and one of 1 A of its own, not through the stop chain; a diode of 1 A (Schottky) from it to the "
            "board",
        ),
    ]


def _fuse_a(supply: Any) -> float:
    """Smallest usual fuse above one and a half times both motors and all the rest [A]."""
    amps = 1.5 * (2.0 * supply.motor_w + supply.rest_w + supply.board_w + 6.0) / supply.battery_v
    return next(a for a in (3.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0) if a >= amps)


_RATED = (  # common practice, no source
    ("board", "1", "one of those in [wiring](wiring.md), with MicroPython 1.24 or later"),
    (
        "port expander",
        "1, with an ESP32 alone",
        "16 lines on I2C (registers of the MCP23017)",
    ),
    (
        "transistor",
        "5",
        "n-channel, switches fully at 2.5 V, 30 V and 2 A or more: relay's coil, buzzer, three lamps; 10 "
        "kOhm from each gate to ground; a diode across the coil",
    ),
    (
        "motor relay",
        "1",
        "normally open contact for the current of both motors, direct current; coil fed through "
        "the stop chain and the board's transistor in series",
    ),
    (
        "stop button",
        "2 or more",
        "latching, forced to open, two separate opening contacts each: one cuts (for the direct current of "
        "both motors), one tells (for 3 mA at 3.3 V: gold); one reached from behind the dish, one from the "
        "pot's side",
    ),
    ("buttons", "4", "momentary, closing: LEAVE (large), ASIDE, ARM, CONFIRM"),
    ("home switch", "2", "closes at and below home, repeats to 0.05 deg; sealed, proof against sun and dust"),
    (
        "switch under the pot",
        "1",
        "closes under the empty pot's weight; stands 250 degC, or stands out of the heat",
    ),
    (
        "thermocouple",
        "2",
        "type K, sheathed, **junction insulated from the sheath**, to 400 degC: one in the food, of "
        "stainless steel fit for food, one under the pot, screened from the beam",
    ),
    ("thermocouple converter", "2", "type K, on SPI (registers of the MAX31855)"),
    (
        "light sensors",
        "2",
        "photodiodes: one down a blackened tube along the dish axis that sees 16 deg each way, "
        "one open cell level on the base",
    ),
    ("converter of the light sensors", "1", "16 bits, on I2C (registers of the ADS1115)"),
    ("clock chip", "1", "with crystal, coin cell and battery RAM, on I2C (registers of the DS3232)"),
    ("heat knob", "1", "10 kOhm, linear; or a rotary one with two contacts: see [wiring](wiring.md)"),
    ("buzzer", "1", "85 dB at 1 m or more"),
    ("lamps", "3", "seen in full sun: HANDS IN green, ARMED amber, FAULT red"),
    (
        "wire, outdoors", "as needed",
        "copper: 1.5 mm2 from battery to drivers and minus (2.5 mm2 over 3 m), 0.75 mm2 to each motor, 0.25 "
        "mm2 for signals, 4 mm2 for the straps across the axes; no thinner than its fuse allows",
    ),
    ("plugs", "as needed", "go in one way only; those of motors, probes and battery fit no other socket"),
    ("enclosure", "1", "IP65, light in colour, in the base's shade; cable glands downward; a breathing plug"),
    ("cover", "1", "opaque, flame-retardant, fits the whole mirror, put on from behind; held by straps"),
    ("mask for sightings", "1", "opaque board or cloth over the whole mirror with the shadow sight free"),
    ("shadow sight", "1", "a pin 0.3 m above a plate with a cross, square to the dish axis"),
)


def _tail(found: dict[str, Any]) -> str:
    limit = found["limits"]
    return (
        f"\nNearest to its limit in this list: {limit}.\n\nAt the worst hour of the year the pot is out "
        f"of the light after {found['leave']['pot_clear_s']:.0f} s and the dish parked after "
        f"{found['leave']['parked_s']:.0f} s.\n"
    )
