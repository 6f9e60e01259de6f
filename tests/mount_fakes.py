"""A drive that keeps what it is sent, settings of an invented mount, and a mean sun for path tests.

Units: degrees in settings, micro-degrees on axes, ms.
"""

import math
from types import SimpleNamespace


def settings(**changes):
    values = {"site_latitude_deg": 24.6, "site_longitude_deg": 73.7,
              "mount_kind": "altaz", "mount_north_deg": 0.0,
              "mount_tilt_east_deg": 0.0, "mount_tilt_north_deg": 0.0, "mount_square_deg": 0.0,
              "dish_pot_clear_deg": 20.0, "dish_loose_clear_deg": 75.0, "tracking_deadband_deg": 0.08}
    axis1 = {"low_deg": -20.0, "high_deg": 380.0, "zero_deg": 0.0, "home_deg": -5.0, "steps_per_turn": 288000,
             "speed_deg_s": 4.0, "accel_deg_s2": 4.0, "backlash_deg": 0.2, "approach": 1, "reversed": False,
             "drive": "stepper", "pulses_per_turn": 7200.0, "pulses_per_mm": 1.0, "channels": 1,
             "foot_m": 0.5, "head_m": 0.4, "triangle_deg": 40.0, "coast_s": 0.5, "stall_s": 2.0}
    axis2 = dict(axis1, low_deg=-2.0, high_deg=92.0, home_deg=0.0, speed_deg_s=3.0, accel_deg_s2=3.0,
                 approach=0)
    for name, axis in (("axis1_", axis1), ("axis2_", axis2)):
        values.update({name + key: value for key, value in axis.items()})
    values.update(changes)
    return SimpleNamespace(**values)


class FakeDrive:
    """FIFO of 8 drained as time passes; position is what the shaft has really made [steps]."""

    def __init__(self):
        self.queue = []
        self.sent = []
        self.position = 0
        self.spent_us = 0
        self.dry_us = 0

    def free(self):
        return 8 - len(self.queue)

    def push(self, forward, steps, period_us):
        assert len(self.queue) < 8 and 1 <= steps <= 2048 and 5 <= period_us < 524293
        self.queue.append([1 if forward else -1, steps, period_us])
        self.sent.append((1 if forward else -1, steps, period_us))

    def clear(self):
        self.queue.clear()

    def ahead_us(self):
        return sum(steps * period for _, steps, period in self.queue) - self.spent_us

    def run(self, us):
        """Let so much time pass [us]."""
        while self.queue:
            sign, _, period = self.queue[0]
            if self.spent_us + us < period:
                self.spent_us += us
                return
            us -= period - self.spent_us
            self.spent_us = 0
            self.position += sign
            self.queue[0][1] -= 1
            if self.queue[0][1] == 0:
                self.queue.pop(0)
        self.dry_us += us


class MeanSun:
    """Hour angle and declination given; no refraction. Same questions answered as by the board's Sun."""

    def __init__(self, lat_deg, dec_deg, ha_deg):
        self.lat = math.radians(lat_deg)
        self.dec_udeg = round(dec_deg * 1e6)
        self.ha_udeg = round(ha_deg * 1e6)
        here = [0.0, 0.0, 0.0]
        self.enu_from_dec_ha(self.dec_udeg, self.ha_udeg, here)
        self.e, self.n, self.u = here
        self.elevation_deg = math.degrees(math.asin(min(1.0, self.u)))

    def enu_from_dec_ha(self, dec_udeg, ha_udeg, out):
        d, h = math.radians(dec_udeg / 1e6), math.radians(ha_udeg / 1e6)
        out[0] = -math.cos(d) * math.sin(h)
        out[1] = math.cos(self.lat) * math.sin(d) - math.sin(self.lat) * math.cos(d) * math.cos(h)
        out[2] = math.sin(self.lat) * math.sin(d) + math.cos(self.lat) * math.cos(d) * math.cos(h)

    def dec_ha_from_enu(self, e, n, u, out):
        x = u * math.cos(self.lat) - n * math.sin(self.lat)
        z = u * math.sin(self.lat) + n * math.cos(self.lat)
        out[0] = round(math.degrees(math.atan2(z, math.hypot(x, e))) * 1e6)
        out[1] = round(math.degrees(math.atan2(-e, x)) * 1e6)

    def behind_udeg(self, e, n, u):
        pair = [0, 0]
        self.dec_ha_from_enu(e, n, u, pair)
        return -((pair[1] - self.ha_udeg + 180_000_000) % 360_000_000 - 180_000_000)

    def separation_udeg(self, e, n, u):
        chord = math.dist((e, n, u), (self.e, self.n, self.u))
        return round(math.degrees(2 * math.asin(min(1.0, chord / 2))) * 1e6)

    def refract(self, out):
        return

    def trailing_aim(self, lag_udeg, out):
        cos_dec = math.cos(math.radians(self.dec_udeg / 1e6))
        self.enu_from_dec_ha(self.dec_udeg, self.ha_udeg - round(lag_udeg / cos_dec), out)
