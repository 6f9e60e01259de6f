"""When a season set by hand wants setting, and to what: the year's calendar to hang beside the dish.

Units: degrees on the scale of axis 2 (towards the elevated pole), days of one year's calendar. The firmware's
own rule: ahead of the sun by most of the band, on marks of a tenth of a degree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

AHEAD = 0.8  # of the band, as in sunhob_board.core.season
MARK_DEG = 0.1


@dataclass(frozen=True)
class Change:
    """On this day turn axis 2 to this reading [deg]; it is within the band for so many days."""

    on: date
    set_deg: float
    days: int


def season_calendar(first: date, sun_deg: Sequence[float], band_deg: float) -> list[Change]:
    """Changes over the days from `first` on; sun_deg: the sun's reading of axis 2 at noon of each [deg]."""
    found, k = [], 0
    while k < len(sun_deg) - 1:
        way = 1.0 if sun_deg[k + 1] > sun_deg[k] else -1.0
        to = round((sun_deg[k] + way * AHEAD * band_deg) / MARK_DEG) * MARK_DEG
        n = 1
        while k + n < len(sun_deg) and abs(sun_deg[k + n] - to) <= band_deg:
            n += 1
        found.append(Change(first + timedelta(k), round(to, 1), n))
        k += n
    return found
