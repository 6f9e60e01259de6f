"""Every fault the bench knows, one row each: name, group, what happens, severity, how it begins and ends.

Severity is a range (low, high) drawn from evenly, with its unit; (1, 1) where there is nothing to draw.
`ends` False: once it has happened it stays. A row here is a fault of every campaign.
"""

from __future__ import annotations

from .. import pins
from . import deeds, fitted_rows, inside
from .deeds import PINS
from .kind import Fault


def _sensor(name: str, channel: int, what: str) -> list[Fault]:
    good = deeds.signal_good(channel)
    rows = (
        ("open", "reads nothing", 1.0, 1.0, ""),
        ("short", "reads full scale", 1.0, 1.0, ""),
        ("frozen", "stays where it was", 1.0, 1.0, ""),
        ("offset", "reads too much or too little", -0.4, 0.4, "of full"),
        ("noisy", "jumps about", 0.05, 0.4, "of full"),
        ("gain", "is dirty or shaded", 0.2, 0.8, "of true"),
    )
    return [
        Fault(
            f"{name}_{kind}",
            "sensor",
            f"the {what} {words}",
            deeds.signal(channel, kind),
            good,
            low,
            high,
            unit,
        )
        for kind, words, low, high, unit in rows
    ]


def _probe(name: str, index: int, what: str) -> list[Fault]:
    good = deeds.probe_good(index)
    rows = [
        Fault(f"{name}_{kind}", "sensor", f"the {what} is {words}", deeds.probe(index, kind), good)
        for kind, words in (("open", "open"), ("short", "shorted"), ("frozen", "frozen"))
    ]
    return [
        *rows,
        Fault(
            f"{name}_offset",
            "sensor",
            f"the {what} reads too high or too low",
            deeds.probe_off(index),
            deeds.probe_true(index),
            -40.0,
            40.0,
            "K",
        ),
    ]


def _drive(axis: int) -> list[Fault]:
    n, good = axis + 1, deeds.drive_good(axis)
    return [
        Fault(f"axis{n}_stalled", "drive", f"axis {n} no longer turns", deeds.drive(axis, dead=True), good),
        Fault(
            f"axis{n}_weak",
            "drive",
            f"axis {n} loses a share of its steps",
            deeds.drive(axis, gain=None),
            good,
            0.3,
            0.95,
            "of steps kept",
        ),
        Fault(
            f"axis{n}_one_phase",
            "drive",
            f"a phase of axis {n} is gone: it shivers",
            deeds.drive(axis, gain=0.02),
            good,
        ),
        Fault(
            f"axis{n}_backwards", "drive", f"axis {n} turns the wrong way", deeds.drive(axis, gain=-1.0), good
        ),
        Fault(
            f"axis{n}_runs_away",
            "drive",
            f"axis {n} turns by itself while it has power",
            deeds.drive(axis, drift_deg_s=None),
            good,
            -1.0,
            1.0,
            "deg/s",
            astray=True,
        ),
        Fault(
            f"axis{n}_slips", "drive", f"axis {n} slips at once", deeds.slip(axis), None, -15.0, 15.0, "deg",
            astray=True,
        ),
    ]


def _switch(name: str, words: str) -> list[Fault]:
    pin, good = PINS[name], deeds.contact_good(PINS[name])
    return [
        Fault(
            f"{name}_low",
            "switch",
            f"the {words} stays low",
            deeds.contact(pin, 0),
            good,
            halts=name == "chain",
        ),
        Fault(f"{name}_high", "switch", f"the {words} stays high", deeds.contact(pin, 1), good),
        Fault(
            f"{name}_bounces",
            "switch",
            f"the {words} bounces",
            deeds.contact(pin, None),
            good,
            0.5,
            4.0,
            "of 6 ms",
            halts=name == "chain",
        ),
    ]


def _held(name: str, pin: int, words: str) -> list[Fault]:
    """An output that is stuck stays so."""
    return [
        Fault(f"{name}_low", "inside", f"the {words} is held low", inside.held(pin, 0)),
        Fault(f"{name}_high", "inside", f"the {words} is held high", inside.held(pin, 1)),
    ]


FAULTS: tuple[Fault, ...] = (
    Fault(
        "clock_silent",
        "clock",
        "the clock chip no longer answers",
        deeds.clock_silent,
        deeds.clock_speaks,
    ),
    Fault("clock_frozen", "clock", "the clock chip stands still", deeds.clock_frozen),
    Fault(
        "clock_jump",
        "clock",
        "the clock chip jumps",
        deeds.clock_jump,
        None,
        -1800.0,
        1800.0,
        "s",
    ),
    Fault(
        "clock_drift",
        "clock",
        "the clock chip runs wrong",
        deeds.clock_drift,
        None,
        -5000.0,
        5000.0,
        "ppm",
    ),
    Fault(
        "clock_battery",
        "clock",
        "the clock chip loses time and battery RAM",
        deeds.clock_battery,
    ),
    Fault(
        "table_corrupt",
        "flash",
        "a bit of the sun table turns over, and the board restarts",
        deeds.flip("sun.tab"),
    ),
    Fault("table_gone", "flash", "the sun table is gone, and the board restarts", deeds.vanish("sun.tab")),
    Fault(
        "settings_corrupt",
        "flash",
        "a bit of the settings turns over, and the board restarts",
        deeds.flip("settings."),
        halts=True,
    ),
    Fault(
        "settings_gone",
        "flash",
        "the settings are gone, and the board restarts",
        deeds.vanish("settings."),
        halts=True,
    ),
    Fault(
        "journal_corrupt",
        "flash",
        "a bit of the journal turns over, and the board restarts",
        deeds.flip("journal"),
    ),
    Fault(
        "flash_slow",
        "flash",
        "every flash step stalls the board",
        deeds.flash_slow,
        deeds.flash_quick,
        50.0,
        500.0,
        "ms",
    ),
    Fault("flash_full", "flash", "the flash is full", deeds.flash_full, deeds.flash_room),
    Fault("code_rots", "inside", "a bit of the program turns over in flash", inside.rot("/lib/")),
    Fault("table_rots", "inside", "a bit of the sun table turns over in flash", inside.rot("sun.tab")),
    Fault(
        "settings_rot", "inside", "a bit of the settings turns over in flash", inside.rot("/data/settings.")
    ),
    Fault(
        "table_rots_in_memory",
        "inside",
        "a bit of the sun table turns over in memory",
        inside.table_in_memory,
    ),
    Fault("memory_stuck", "inside", "a bit of free memory is stuck", inside.memory_stuck),
    *_held("motor_power", pins.MOTOR_ENABLE, "output of motor power"),
    *_held("buzzer", pins.BUZZER, "output of the buzzer"),
    *_held("lamp", pins.LAMP_FAULT, "output of the fault lamp"),
    Fault(
        "reference_off",
        "inside",
        "the light converter's reference is wrong",
        inside.reference_off,
        inside.reference_good,
        0.6,
        1.5,
        "of true",
    ),
    *_sensor("beam", 0, "tube sensor"),
    *_sensor("open_cell", 1, "open cell"),
    *_sensor("knob", 2, "heat knob"),
    *fitted_rows.ROWS,
    *_probe("contents", 0, "probe in the contents"),
    *_probe("underside", 1, "probe under the pot"),
    *_drive(0),
    *_drive(1),
    *_switch("home1", "home flag of axis 1"),
    *_switch("home2", "home flag of axis 2"),
    *_switch("leave", "LEAVE button"),
    *_switch("aside", "ASIDE button"),
    *_switch("arm", "ARM button"),
    *_switch("confirm", "CONFIRM button"),
    *_switch("pot", "pot switch"),
    *_switch("chain", "stop chain's line"),
    Fault("restart", "controller", "the controller resets", deeds.restart),
    Fault("loop_late", "controller", "the loop stalls once", deeds.loop_late, None, 100.0, 4000.0, "ms"),
    Fault(
        "loop_late_often",
        "controller",
        "the loop stalls every two seconds",
        deeds.loop_late_often,
        deeds.nothing,
        100.0,
        1500.0,
        "ms",
    ),
    Fault("power_cut", "supply", "no supply for a while", deeds.power_cut, None, 1.0, 600.0, "s"),
    Fault("brown_outs", "supply", "a storm of short outages", deeds.brown_outs, None, 3.0, 15.0, "outages"),
    Fault("gust", "surroundings", "a strong wind gets up", deeds.gust, deeds.calm, 6.0, 16.0, "m/s"),
    Fault(
        "base_pushed",
        "surroundings",
        "the base is knocked round",
        deeds.base_pushed,
        None,
        -25.0,
        25.0,
        "deg",
        untrue=True,
    ),
    Fault(
        "base_tipped",
        "surroundings",
        "a foot of the base sinks",
        deeds.base_tipped,
        None,
        -4.0,
        4.0,
        "deg",
        untrue=True,
    ),
    Fault("pot_gone", "surroundings", "the pot is lifted away", deeds.pot_gone, deeds.pot_back),
    Fault(
        "link_garbage",
        "link",
        "random bytes on the link",
        deeds.garbage,
        deeds.nothing,
        20.0,
        5000.0,
        "bytes/s",
    ),
    Fault(
        "link_flood", "link", "a flood of good requests", deeds.flood, deeds.nothing, 5.0, 100.0, "a second"
    ),
    Fault("link_half_lines", "link", "lines cut off", deeds.half_lines, deeds.nothing, 0.5, 20.0, "a second"),
    Fault("link_replay", "link", "old requests told again", deeds.replay, deeds.nothing),
    Fault(
        "link_hostile",
        "link",
        "a host asks for whatever it can",
        deeds.hostile,
        deeds.nothing,
        0.2,
        2.0,
        "a second",
    ),
    Fault("link_cut", "link", "nobody reads what the board tells", deeds.link_cut, deeds.link_mended),
)
BY_NAME = {fault.name: fault for fault in FAULTS}
GROUPS = tuple(dict.fromkeys(fault.group for fault in FAULTS))
