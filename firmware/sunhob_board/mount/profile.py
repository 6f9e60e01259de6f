"""Speed-limited, acceleration-limited motion as whole steps at whole milliseconds.

Units: steps, steps/s, steps/s2, ms. Integers only, so that every interpreter gives the same steps.
"""


def isqrt(n):
    """Whole part of the square root of a whole number."""
    if n < 2:
        return max(n, 0)
    x = 1
    while x * x < n:
        x <<= 1
    while True:
        y = (x + n // x) >> 1
        if y >= x:
            return x
        x = y


def _ramp(a, t):
    """Steps gained in t ms from rest at a steps/s2."""
    return (a * t // 1000) * t // 2000


def duration_ms(d, v, a):
    """Time of a move of d steps at most v steps/s and a steps/s2, from rest to rest."""
    if d <= 0:
        return 0
    if d * a >= v * v:
        return d * 1000 // v + v * 1000 // a
    return max(1, 2 * isqrt(d * 1000000 // a))


class Profile:
    """From rest to rest (start) or from speed to rest (brake); at(t) gives the steps made after t ms."""

    def __init__(self):
        self.steps = 0
        self.total_ms = 0
        self._a = 1
        self._v = 0
        self._up_ms = 0
        self._down_ms = 0
        self._up = 0

    def start(self, d, v, a):
        """Plan d steps (not negative) at most v steps/s, at a steps/s2."""
        self.steps = d
        self.total_ms = duration_ms(d, v, a)
        self._a = a
        self._up_ms = min(v * 1000 // a, self.total_ms // 2)
        self._down_ms = self._up_ms
        self._up = _ramp(a, self._up_ms)
        self._v = v

    def brake(self, v, a):
        """Plan the way from v steps/s to rest at a steps/s2."""
        self._a = a
        self.total_ms = v * 1000 // a
        self.steps = _ramp(a, self.total_ms)
        self._up_ms = 0
        self._up = 0
        self._down_ms = self.total_ms
        self._v = v

    def at(self, t):
        """Steps made t ms after the start."""
        if t <= 0:
            return 0
        left = self.total_ms - t
        if left <= 0:
            return self.steps
        if t < self._up_ms:
            return min(self.steps, _ramp(self._a, t))
        if left <= self._down_ms:
            return max(0, self.steps - _ramp(self._a, left))
        t -= self._up_ms
        return min(self.steps, self._up + self._v * (t // 1000) + self._v * (t % 1000) // 1000)

    def speed(self, t):
        """Speed t ms after the start [steps/s]."""
        left = self.total_ms - t
        if left <= 0 or t < 0:
            return 0
        return min(self._v, self._a * left // 1000, self._a * t // 1000 if self._up_ms else self._v)
