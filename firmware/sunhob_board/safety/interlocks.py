"""Runs the interlock table: dwell before it trips, dwell before it is over, latches.

Units: ms for dwell. At each tick begin(), then put() for every row that is bad, then tick(). One byte a
row, so that nothing is allocated; dwells are counters of elapsed time, so they neither wrap nor age.
"""

from ..declared import interlocks as table

FIRST_MS = 1_000  # what is seen bad for the first time has been so for no longer than this


class Interlocks:
    """now: rows bad at this tick. strongest: the strongest action in force. value: numbers for the log."""

    def __init__(self, s, emit, code_trip, code_over):
        self.emit = emit
        self.code_trip = code_trip
        self.code_over = code_over
        self.n = len(table.ROWS)
        self.trip_ms = [self._dwell(s, row[1]) for row in table.ROWS]
        self.over_ms = [self._dwell(s, row[2]) for row in table.ROWS]
        self.actions = bytes([row[3] for row in table.ROWS])
        self.latched = bytes([row[4] for row in table.ROWS])
        self.value = [0] * self.n
        self.count = [0] * self.n
        self.now = bytearray(self.n)
        self._none = bytes(self.n)
        self.bad = bytearray(self.n)
        self.tripped = bytearray(self.n)
        self.strongest = table.TELL
        self._in_force = bytearray(len(table.ACTIONS))  # how many rows of each action
        self.at_rest = False

    @staticmethod
    def _dwell(s, what):
        seconds = getattr(s, what) if isinstance(what, str) else what
        return int(seconds * 1000)

    def begin(self):
        """A new tick: no row is bad yet."""
        self.now[:] = self._none

    def put(self, i, value=None):
        """Row i is bad at this tick; value: what the log shall tell of it, a whole number."""
        self.now[i] = 1
        if value is not None:
            self.value[i] = value

    def tick(self, dt_ms):
        """Judge the rows put into `now`; dt_ms: time since the last call."""
        now = self.now  # one by one: four at once would make a tuple
        bad = self.bad
        tripped = self.tripped
        count = self.count
        if now == bad and self.at_rest:
            return
        rest = True
        bad[:] = now
        for i in range(self.n):
            is_bad = now[i]
            if is_bad == tripped[i] or (tripped[i] and self.latched[i]):
                count[i] = 0
                continue
            rest = False
            limit = self.trip_ms[i] if is_bad else self.over_ms[i]
            count[i] += dt_ms if count[i] else min(dt_ms, FIRST_MS)
            if count[i] >= limit:
                count[i] = 0
                self._turn(i, is_bad)
        self.at_rest = rest

    def _turn(self, i, on):
        self._set(i, on)
        self.emit(self.code_trip if on else self.code_over, i, self.value[i])

    def _set(self, i, on):
        if self.tripped[i] == on:
            return
        self.tripped[i] = on
        self._in_force[self.actions[i]] += 1 if on else -1
        strongest = len(table.ACTIONS) - 1
        while strongest > table.TELL and not self._in_force[strongest]:
            strongest -= 1
        self.strongest = strongest

    def has(self, action):
        """Whether a row with this very action is in force."""
        return self._in_force[action] > 0

    def only(self, i):
        """Whether row i is in force and no other that does more than tell."""
        if not self.tripped[i]:
            return False
        for k in range(self.n):
            if k != i and self.tripped[k] and self.actions[k] != table.TELL:
                return False
        return True

    @property
    def latch(self):
        """The strongest latch in force: 0 none, 1 a person must clear it, STAYS until then it stays."""
        latch = 0
        for i in range(self.n):
            latch = max(latch, self.latched[i] * self.tripped[i])
        return latch

    def is_tripped(self, i):
        return bool(self.tripped[i])

    def clear(self, i):
        """A person clears a latched row whose cause is gone. Returns False while it is still bad."""
        if self.bad[i]:
            return False
        self._set(i, 0)
        self.at_rest = False
        return True
