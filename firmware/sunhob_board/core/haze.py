"""Returns after cloud that come to nothing: under thin haze the open cell is bright and the beam is weak.

Units: ms, s. Turned away, the dish can judge the light by the open cell alone. A return that weak light ends
again within a short time shows that the cell misled it: the good light wanted before the next return then
doubles, up to eightfold. ARM, or a long spell on the sun, brings it back to the setting.
"""

_SHORT_DWELLS = 3  # of weak light until it leaves: a return ended sooner than so many came to nothing
_MOST_DOUBLINGS = 3


class Haze:
    """cut_short: returns in a row that came to nothing."""

    def __init__(self, locks, row):
        self.locks = locks
        self.row = row
        self.cut_short = 0
        self._good_ms = locks.over_ms[row]
        self._short_ms = _SHORT_DWELLS * locks.trip_ms[row]
        self._since_ms = -1

    @property
    def wanted_s(self):
        """Good light wanted before the next return [s]."""
        return self.locks.over_ms[self.row] // 1000

    def forget(self):
        """The cook armed it, or the sun has held: back to the setting."""
        self._since_ms = -1
        self._set(0)

    def returned(self):
        """It comes back by itself now."""
        self._since_ms = 0

    def tick(self, dt_ms, cooking):
        """dt_ms of time on the sun counts towards a long spell."""
        if self._since_ms < 0 or not cooking:
            return
        self._since_ms += dt_ms
        if self._since_ms > self._short_ms:
            self.forget()

    def left(self):
        """Weak light ended it; True if that was soon after a return of its own."""
        soon = self._since_ms >= 0
        self._since_ms = -1
        if soon:
            self._set(self.cut_short + 1)
        return soon

    def _set(self, count):
        self.cut_short = count
        self.locks.over_ms[self.row] = self._good_ms << min(_MOST_DOUBLINGS, count)
