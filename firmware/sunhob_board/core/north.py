"""The daily setting of north, kept with the time it was taken so that its age can be told.

Units: degrees clockwise, days since 2000-01-01 UTC, ms of the day, whole hours.
"""

_SLOT = "north"
_HOUR_MS = 3_600_000


class DailyNorth:
    """deg: the setting, or None where none was ever taken on this board; lean: of the base at that time,
    east and north [udeg], or None."""

    def __init__(self, slots):
        self.slots = slots
        self.deg = None
        self.lean = None
        self._day = self._ms = 0
        body = slots.load(_SLOT)
        if not body:
            return
        try:
            words = body.decode().split()
            self.deg = float(words[0])
            if len(words) > 2:  # without its time it counts as old
                self._day, self._ms = int(words[1]), int(words[2])
            if len(words) > 4:
                self.lean = (int(words[3]), int(words[4]))
        except (ValueError, IndexError):
            self.deg = None

    def take(self, deg, day, ms, lean=None):
        """Keep a setting taken now, with the lean of the base where it is known; True once it is stored."""
        self.deg = deg
        self.lean = None if lean is None else (lean[0], lean[1])
        self._day, self._ms = day, ms
        tail = "" if lean is None else " %d %d" % self.lean
        return self.slots.save(_SLOT, ("%.4f %d %d%s" % (deg, day, ms, tail)).encode())

    def age_h(self, day, ms):
        """Hours between the setting and now, in either order: a clock may be set meanwhile. -1: none."""
        if self.deg is None:
            return -1
        apart = (day - self._day) * 24 + (ms - self._ms) // _HOUR_MS
        return apart if apart >= 0 else -apart
