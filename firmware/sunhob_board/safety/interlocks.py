"""Runs the interlock table: dwell before it trips, dwell before it is over, latches.

Units: ms for dwell. Conditions are handed in as a mask of rows that are bad at this tick; dwells are
counters of elapsed time, so they neither wrap nor age.
"""

from ..declared import interlocks as table


class Interlocks:
    """tripped: mask of rows in force. strongest: the strongest action among them."""

    def __init__(self, s, emit, code_trip, code_over):
        self.emit = emit
        self.code_trip = code_trip
        self.code_over = code_over
        self.n = len(table.ROWS)
        self.trip_ms = [self._dwell(s, row[1]) for row in table.ROWS]
        self.over_ms = [self._dwell(s, row[2]) for row in table.ROWS]
        self.actions = [row[3] for row in table.ROWS]
        self.latched = [row[4] for row in table.ROWS]
        self.value = [0] * self.n
        self.count = [0] * self.n
        self.tripped = 0
        self.bad = 0
        self.strongest = table.TELL
        self._at_rest = False

    @staticmethod
    def _dwell(s, what):
        seconds = getattr(s, what) if isinstance(what, str) else what
        return int(seconds * 1000)

    def tick(self, bad, dt_ms):
        """bad: mask of rows whose condition is bad now; dt_ms: time since the last call."""
        if bad == self.bad and self._at_rest:
            return
        self.bad = bad
        rest = True
        for i in range(self.n):
            bit = 1 << i
            is_bad = bad & bit
            is_tripped = self.tripped & bit
            if bool(is_bad) == bool(is_tripped):
                self.count[i] = 0
                continue
            if is_tripped and self.latched[i]:
                self.count[i] = 0
                continue
            rest = False
            limit = self.trip_ms[i] if is_bad else self.over_ms[i]
            self.count[i] += dt_ms
            if self.count[i] >= limit:
                self.count[i] = 0
                self._turn(i, bool(is_bad))
        self._at_rest = rest

    def _turn(self, i, on):
        if on:
            self.tripped |= 1 << i
        else:
            self.tripped &= ~(1 << i)
        self.emit(self.code_trip if on else self.code_over, i, self.value[i])
        self._rank()

    def _rank(self):
        strongest = table.TELL
        for i in range(self.n):
            if self.tripped & (1 << i) and self.actions[i] > strongest:
                strongest = self.actions[i]
        self.strongest = strongest

    def has(self, action):
        """Whether a row with this very action is in force."""
        for i in range(self.n):
            if self.actions[i] == action and self.tripped & (1 << i):
                return True
        return False

    @property
    def acting(self):
        """Mask of the tripped rows that do more than tell."""
        mask = self.tripped
        for i in range(self.n):
            if self.actions[i] == table.TELL:
                mask &= ~(1 << i)
        return mask

    @property
    def any_latched(self):
        """Whether a fault that a person must clear is in force."""
        for i in range(self.n):
            if self.latched[i] and self.tripped & (1 << i):
                return True
        return False

    def is_tripped(self, i):
        return bool(self.tripped & (1 << i))

    def clear(self, i):
        """A person clears a latched row whose cause is gone. Returns False while it is still bad."""
        if self.bad & (1 << i):
            return False
        if self.tripped & (1 << i):
            self.tripped &= ~(1 << i)
            self._rank()
        self._at_rest = False
        return True
