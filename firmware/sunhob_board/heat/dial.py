"""The heat dial: from heat asked to the lag that gives it, and back.

Units: heat in permille of full heat, lag in micro-degrees. The curve is a table of permille at equal
steps of lag, never rising, made by the host for this dish and pot.
"""

STEP_UDEG = 250_000


class Dial:
    """Monotone in both directions; allocates nothing after start."""

    def __init__(self, curve_permille, least_permille):
        self.curve = curve_permille
        self.least = least_permille

    def lag_udeg(self, permille):
        """Least lag at which the pot gets no more than `permille` of full heat. [udeg]"""
        if permille < self.least:
            permille = self.least
        if permille >= self.curve[0]:
            return 0
        for i in range(1, len(self.curve)):
            low = self.curve[i]
            if low <= permille:
                high = self.curve[i - 1]
                return (i - 1) * STEP_UDEG + STEP_UDEG * (high - permille) // (high - low)
        return (len(self.curve) - 1) * STEP_UDEG

    def permille(self, lag_udeg):
        """Heat on the pot at this lag, in permille of full heat."""
        i = lag_udeg // STEP_UDEG
        if i >= len(self.curve) - 1:
            return self.curve[-1]
        a = self.curve[i]
        return a + (self.curve[i + 1] - a) * (lag_udeg - i * STEP_UDEG) // STEP_UDEG
