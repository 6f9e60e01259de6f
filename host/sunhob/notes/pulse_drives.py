"""What changes where DC motors or linear actuators drive: ratings and wiring. Units in the words."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..sizing import gears
from .boards import BoardPins

# an invented actuator for axis 2 of the invented dish; its shortest length leaves room for its own stroke
EXAMPLE = {"drive": "actuator", "foot_m": 0.6, "head_m": 0.25, "triangle_deg": 52.0}

RATINGS = """
## DC motors or linear actuators in place of step motors

Their settings: `axis1.drive`, `axis2.drive` = `motor` or `actuator`. They are measured, not counted ahead:
each wants a pulse sensor. An actuator makes a triangle of foot, axis and head ([drawing](actuator.svg)).
The one below is for axis 2 of the same dish: foot {foot:g} m and head {head:g} m from the axis,
{triangle:g} deg between them at reading 0. Choose your own so that the longest is well under twice the
shortest: drawn in, an actuator is longer than its stroke.

| part | how many | rating |
|---|---|---|
"""


def pulse_parts(cooker: Any, torque2_n_m: float) -> str:
    """Rows of the bill of parts for drives with pulses. torque2_n_m: most about axis 2 in working gusts."""
    axis = cooker.axis2.model_copy(update=EXAMPLE)
    head = RATINGS.format(foot=axis.foot_m, head=axis.head_m, triangle=axis.triangle_deg)
    rows = _motor_rows(cooker) + _actuator_rows(axis, torque2_n_m)
    return head + "\n".join(f"| {a} | {b} | {c} |" for a, b, c in rows) + "\n" + _triangles()


_TRIANGLES = """
### How much travel one actuator gives

Drawn in it must be longer than its stroke, by {ends:g} m for its eyes and motor (common practice, no source),
and near a stretched or folded triangle it has no lever. So the more travel, the further off the axis its
foot. Below: for a head {head:g} m from the axis the nearest foot that can be built, and the angle from foot
to head at the low end of the travel (`triangle_deg` is that angle less `low_deg`). A longer head needs less
force, counts finer and wants more stroke. Where that is too little travel, take a gear motor for that axis.

| travel | foot | angle at the low end | stroke | drawn in | mm a degree |
|---|---|---|---|---|---|
"""
_HEAD_M = 0.36
_TRAVELS_DEG = (60, 80, 100, 110, 120)


def _triangles() -> str:
    lines = []
    for travel in _TRAVELS_DEG:
        found = gears.triangle_for(travel, _HEAD_M)
        assert found is not None
        angle = np.linspace(found[1], found[1] + travel, 200)
        lengths, levers = gears.length_m(angle, found[0], _HEAD_M), gears.lever_m(angle, found[0], _HEAD_M)
        fine = levers * np.pi / 180.0 * 1000.0
        lines.append(f"| {travel} deg | {found[0]:.2f} m | {found[1]:.0f} deg | "
                     f"{1000 * np.ptp(lengths):.0f} mm | {1000 * lengths.min():.0f} mm | "
                     f"{fine.min():.1f} to {fine.max():.1f} |\n")
    return _TRIANGLES.format(ends=gears.ROD_ENDS_M, head=_HEAD_M) + "".join(lines)


def _motor_rows(cooker: Any) -> tuple[tuple[str, str, str], ...]:
    volts, pulses = cooker.supply.battery_v, cooker.axis1.pulses_per_turn
    return (
        ("H-bridge", "1 an axis",
         f"{volts:g} V, direct current; twice the motor's stalled current, limits it by itself; one "
         "input for PWM "
         "of 15 kHz, one for the direction, both take 3.3 V and are off when open"),
        ("gear motor", "1 an axis",
         f"{volts:g} V, about {cooker.supply.motor_w:g} W; torque behind its gear as in the table above; "
         "holds "
         "without power"),
        ("its pulse sensor", "1 an axis",
         f"Hall or reed that closes to ground; 1 line, or 2 in quadrature; {pulses:g} pulses a turn of "
         "the axis "
         f"give {180.0 / pulses:.3f} deg a count; on 1 line no two edges within 3 ms at full speed"),
    )


def _actuator_rows(axis: Any, torque_n_m: float) -> tuple[tuple[str, str, str], ...]:
    rod = gears.actuator(axis, torque_n_m)
    assert rod is not None
    count_mm = 0.5 / axis.pulses_per_mm
    return (
        ("linear actuator", "1 an axis",
         f"stroke {1000 * rod['stroke_m']:.0f} mm or more, from {1000 * rod['shortest_m']:.0f} to "
         f"{1000 * rod['longest_m']:.0f} mm between its eyes; pushes and pulls "
         f"{1.5 * rod['greatest_force_n']:.0f} N (1.5 times the most in gusts); holds without power; end "
         "switches "
         "of its own; IP65"),
        ("its pulse sensor", "1 an axis",
         f"reed or Hall, {axis.pulses_per_mm:g} or more pulses a millimetre: a count of {count_mm:g} mm is "
         f"{count_mm / rod['most_mm_per_deg']:.2f} to {count_mm / rod['least_mm_per_deg']:.2f} deg"),
    )


_WIRING = """## With DC motors or linear actuators

Where `axis1.drive` or `axis2.drive` is `motor` or `actuator`, pins of the tables below change what they
carry:

- `step1`, `step2`: PWM of the H-bridge of that axis (15 kHz, high drives). `dir1`, `dir2`: its direction.
  10 kOhm from each PWM line to ground at the bridge: a board in reset drives nothing.
- Motor power goes over fuse, stop chain and motor relay to the bridges, as to step drivers. The diodes of
  the bridge must stand the motor's current as the relay opens.
- Pulse lines close to ground. At the board, on each: 4.7 kOhm to 3.3 V, and over 1 m of wire 1 kOhm in series
  and 10 nF to ground. Each twisted with its ground, screened, 0.1 m away from the motor wires.
- **An actuator's Hall sensor is often made for 5 V.** Feed it what it wants; with a meter on its line,
  away from the board, and 4.7 kOhm from the line to 3.3 V: never more than 3.4 V, whichever way it
  stands. If it is more, it has a resistor to its supply or drives its line: put a transistor or an
  optocoupler between.
- Pulse lines are given out in order: axis 1 first, as many as its `channels`, then axis 2. Of two lines the
  first leads the second as the reading grows.

| board | 1st line | 2nd line | what moves |
|---|---|---|---|
"""
_MOVES = {"lamp_armed": "the lamp ARMED is not fitted",
          "adc_knob": "the heat knob goes to input 2 of the light converter (0x48)"}


def pulse_wiring(boards: list[BoardPins]) -> str:
    """Which pins of each board the pulse lines have."""
    rows = []
    for one in boards:
        moves = [f"from {n} line{'s' * (n > 1)} on: {_MOVES[name]}"
                 for n, name in enumerate(one.spared, 1) if name in _MOVES]
        cells = " | ".join(_lines(one))
        rows.append(f"| {one.title} | {cells} | {'; '.join(moves) or 'nothing'} |")
    return _WIRING + "\n".join(rows) + "\n"


def _lines(one: BoardPins) -> list[str]:
    found = [f"GPIO {one.pins[name]} (`{name}`)" for name in one.spared[:2]]
    return found + ["none"] * (2 - len(found))


_KNOB = """## With a rotary heat knob

Where `cook.knob_rotary` is true, in place of the potentiometer: an encoder with two contacts, 20 to 30
detents a turn, both contacts open in a detent. It takes both pins that the pulse lines of motors would have:
it goes with steppers, or a season set by hand, not with motors or actuators. Common practice, no source.

- Contact A and contact B to the pins below, their common to ground. At the board, on each: 10 kOhm to 3.3 V,
  and 10 nF to ground. If the heat falls as it is turned up, change A and B over.
- Its push switch, where it has one: beside the button CONFIRM, in parallel.
- A detent is 2 percent. It has no pointer: after each start it stands at nothing, heat asked from afar moves
  it along, and the figure is on the display (`cook.display`) or in `sunhob dish status`.

| board | contact A | contact B | what moves |
|---|---|---|---|
"""


def knob_wiring(boards: list[BoardPins]) -> str:
    """Which pins of each board a rotary knob has."""
    rows = []
    for one in boards:
        moves = _MOVES["lamp_armed"] if "lamp_armed" in one.spared else "nothing"
        rows.append(f"| {one.title} | {' | '.join(_lines(one))} | {moves} |")
    return _KNOB + "\n".join(rows) + "\n"
