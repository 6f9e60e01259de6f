"""The firmware's mount and sun held still, so that a host can ask the firmware's own planner.

Units: degrees for declination and hour angle (west positive), micro-degrees on axes.
"""

from __future__ import annotations

from typing import Any

from sunhob_board.core.hand_park import HandPark
from sunhob_board.core.park import Park
from sunhob_board.mount.axis import axis_of
from sunhob_board.mount.geometry import Geometry
from sunhob_board.mount.hand_axis import HandGeometry
from sunhob_board.mount.mount import Mount
from sunhob_board.sun.position import Sun


class FixedTable:
    """A sun table that holds one place of the sun, in micro-degrees."""

    def __init__(self, dec_deg: float, ha_deg: float) -> None:
        self.dec_udeg = round(dec_deg * 1e6)
        self.gha_udeg = round(ha_deg * 1e6)

    def at(self, day: int, ms: int) -> None:
        """The same at any day and ms."""


class StillDrive:
    """A drive that never turns: plans need none."""

    count = way = strays = at_ms = 0
    last = 1
    off = True

    def look(self) -> None:
        """There are no edges to catch up with."""

    def free(self) -> int:
        """Free places for segments of steps."""
        return 8

    def push(self, forward: int, steps: int, period_us: int) -> None:
        """Take a segment, period in us."""

    def clear(self) -> None:
        """Forget all segments."""


def fixed_sun(s: Any, dec_deg: float, ha_deg: float) -> Sun:
    """The board's sun at a declination and hour angle [deg], seen from the site of the board's settings."""
    table = FixedTable(dec_deg, ha_deg)
    sun = Sun(table, s.site_latitude_udeg, 0, s.site_altitude_m, s.site_pressure_pa, s.site_temp_c)
    sun.update(0, 0)
    return sun


def geometry_of(s: Any) -> Geometry:
    """The board's geometry: of two driven axes, or of one where the season is set by hand."""
    return HandGeometry(s) if s.axis2_drive == "hand" else Geometry(s)


def park_of(s: Any, sun: Sun, mount: Mount) -> Park:
    """The board's resting places for such a mount."""
    return HandPark(s, sun, mount) if s.axis2_drive == "hand" else Park(s, sun, mount)


def still_mount(s: Any) -> Mount:
    """The board's mount at its home marks."""
    mount = Mount((axis_of(StillDrive(), 1, s), axis_of(StillDrive(), 2, s)), geometry_of(s))
    stand(mount, (round(s.axis1_home_deg * 1e6), round(s.axis2_home_deg * 1e6)))
    return mount


def stand(mount: Mount, at: tuple[int, int]) -> None:
    """Put the mount at these readings [udeg]."""
    mount.set_position(*at)
    mount.geometry.near[0], mount.geometry.near[1] = at
