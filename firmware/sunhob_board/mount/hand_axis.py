"""An axis that no drive turns: it stands where the cook set it. Units: micro-degrees, ms."""

from .axis import Axis


class HandAxis(Axis):
    """Only its reading is known, as told; a move asked of it is granted where it stands already."""

    homes = False

    def __init__(self, drive, n, s):
        Axis.__init__(self, drive, n, s)
        self.placed = True
        self.approach = 0

    def move_to(self, udeg, speed_permille=1000):
        """True if the reading [udeg] is near enough to where it stands."""
        self.at_limit = not self.low_udeg <= udeg <= self.high_udeg
        return not self.at_limit

    def way_ms(self, start_udeg, end_udeg):
        """No time [ms]: it makes no move."""
        return 0

    def seek(self, delta_udeg, speed_permille):
        """Nothing turns it."""

    def halt(self, now_ms):
        """Nothing turns it."""
