"""The daily setting of north, kept with the time it was taken so that its age can be told.

Units: degrees clockwise, days since 2000-01-01 UTC, ms of the day, whole hours.
"""

_SLOT = "north"
_HOUR_MS = 3_600_000


class DailyNorth:
    """deg: the setting, or None where none was ever taken on this board."""

    def __init__(self, slots):
        self.slots = slots
        self.deg = None
        self._day = self._ms = 0
        body = slots.load(_SLOT)
        if not body:
            return
        try:
            words = body.decode().split()
            self.deg = float(words[0])
            if len(words) > 2:  # without its time it counts as old
                self._day, self._ms = int(words[1]), int(words[2])
        except (ValueError, IndexError):
            self.deg = None

    def take(self, deg, day, ms):
        """Keep a setting taken now; True once it is stored."""
        self.deg = deg
        self._day, self._ms = day, ms
        return self.slots.save(_SLOT, ("%.4f %d %d" % (deg, day, ms)).encode())

    def age_h(self, day, ms):
        """Hours between the setting and now, in either order: a clock may be set meanwhile. -1: none."""
        if self.deg is None:
            return -1
        apart = (day - self._day) * 24 + (ms - self._ms) // _HOUR_MS
        return apart if apart >= 0 else -apart
