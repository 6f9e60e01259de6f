"""Settings that only the builder's sums need; the board never sees them.

Row: as in sunhob_board.declared.settings: (key, kind, default, low, high, unit, sentence, on_board).
Defaults describe the same invented cooker; no real product is meant.
"""

from __future__ import annotations

from typing import Any

Row = tuple[Any, ...]


def _drive(n: int, motor_n_m: float, ratio: float, friction_n_m: float, stands_n_m: float) -> tuple[Row, ...]:
    return (
        (f"build.motor{n}_torque_n_m", "float", motor_n_m, 0.01, 100.0, "N m",
         f"Torque of axis {n}'s motor at the speed it runs at.", False),
        (f"build.gear{n}_ratio", "float", ratio, 1.0, 20000.0, "1",
         f"Turns of motor {n} for one turn of its axis.", False),
        (f"build.gear{n}_efficiency", "float", 0.35, 0.05, 1.0, "1",
         f"Share of the motor's work that gear {n} passes on.", False),
        (f"build.gear{n}_lead_deg", "float", 3.5, 0.0, 60.0, "deg",
         f"Lead angle of the worm in gear {n}, or of the screw in its actuator; 0: it has none.", False),
        (f"build.gear{n}_stands_n_m", "float", stands_n_m, 0.1, 100000.0, "N m",
         f"Torque that gear {n} and its mounting stand at rest.", False),
        (f"build.friction{n}_n_m", "float", friction_n_m, 0.0, 1000.0, "N m",
         f"Friction in the bearings of axis {n}.", False),
        (f"build.rod{n}_force_n", "float", 1500.0, 1.0, 100000.0, "N",
         f"Force with which axis {n}'s actuator, if it has one, pushes and pulls at its speed.", False),
        (f"build.rod{n}_stands_n", "float", 4000.0, 1.0, 1000000.0, "N",
         "Force that this actuator and its pins stand at rest.", False),
        (f"build.rod{n}_speed_mm_s", "float", 20.0, 0.1, 500.0, "mm/s",
         "Speed of this actuator under that force.", False),
    )


BUILD_ROWS: tuple[Row, ...] = (
    ("build.lifted_kg", "float", 16.0, 0.5, 500.0, "kg",
     "Mass that axis 2 turns: dish, arms, counterweight.", False),
    ("build.lifted_along_m", "float", -0.04, -3.0, 3.0, "m",
     "Its centre from the crossing of the axes, towards where the dish looks; negative: towards the mirror.",
     False),
    ("build.lifted_across_m", "float", 0.02, 0.0, 2.0, "m",
     "How far its centre lies off the line the dish looks along.", False),
    ("build.turned_kg", "float", 30.0, 0.5, 1000.0, "kg", "Mass that axis 1 turns, all of it.", False),
    ("build.turned_off_m", "float", 0.15, 0.0, 3.0, "m", "How far its centre lies off axis 1.", False),
    ("build.level_deg", "float", 1.0, 0.0, 10.0, "deg",
     "How far off level the base may be set down.", False),
    *_drive(1, 2.2, 90.0, 2.0, 400.0),
    *_drive(2, 2.2, 90.0, 2.0, 400.0),
    ("build.thread_friction", "float", 0.1, 0.01, 0.5, "1",
     "Friction in worms and screws, greased: 0.05 to 0.15 is common.", False),
    ("build.working_wind_m_s", "float", 7.0, 0.0, 20.0, "m/s",
     "Mean wind in which it is to follow the sun.", False),
    ("build.survival_wind_m_s", "float", 20.0, 0.0, 60.0, "m/s",
     "Mean wind it is to stand parked.", False),
    ("build.gust_factor", "float", 1.5, 1.0, 2.5, "1", "Gust over mean wind.", False),
    ("build.wind_factor", "float", 1.0, 0.5, 3.0, "1",
     "Times the wind torque of the built-in coefficients: yours, from a published table, over it.", False),
    ("supply.battery_v", "float", 12.8, 5.0, 60.0, "V", "Voltage of the battery.", False),
    ("supply.battery_ah", "float", 12.0, 0.0, 1000.0, "Ah", "Its charge when full; 0: none.", False),
    ("supply.usable", "float", 0.8, 0.1, 1.0, "1", "Share of that charge it may give.", False),
    ("supply.panel_w", "float", 20.0, 0.0, 2000.0, "W",
     "Power of the solar panel in full sun; 0: none.", False),
    ("supply.panel_share", "float", 0.7, 0.1, 1.0, "1",
     "Share of that which reaches the battery: heat, dust, charger.", False),
    ("supply.sun_hours_h", "float", 4.0, 0.5, 9.0, "h",
     "Hours of full sun in a poor day that still has sun.", False),
    ("supply.days_without_sun", "float", 3.0, 0.0, 30.0, "days", "Days the battery is to last alone.", False),
    ("supply.motor_w", "float", 18.0, 0.1, 1000.0, "W", "One motor while it turns.", False),
    ("supply.rest_w", "float", 1.0, 0.0, 100.0, "W", "Both motors while they hold or rest.", False),
    ("supply.board_w", "float", 0.4, 0.01, 50.0, "W", "Controller, clock, sensors.", False),
    ("supply.leaves_a_day", "int", 6, 1, 100, "", "How often a day it leaves the sun and comes back.", False),
)
