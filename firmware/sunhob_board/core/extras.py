"""Reads the further sensors at a bounded pace: wind, tilt of the base, encoders, sun sensor, supply, board.

Units: m/s, V, degC, micro-degrees, W/m2, ms. What is not fitted stays None; silent_ms tells how long what is
fitted has given nothing.
"""

_SLOW_MS = 1_000
_ENCODER_MS = 300
_LIGHT_MS = 100
_BOARD_MS = 64_000  # the clock chip measures no sooner (DS3232 data sheet, "Temperature Sensor")
_GUST = 3  # samples of a second each: a gust is the mean of three seconds (WMO guide no. 8, from memory)


class Silence:
    """How long each of the sensors has given nothing [ms]."""

    def __init__(self):
        self.wind = self.tilt = self.absolute = 0


class Extras:
    """gust_m_s, supply_v, board_c, lean (east and north, udeg), absolute_udeg (axis 1 and 2), sun_w_m2 (a
    vector); fresh: bit k set where the encoder of axis k + 1 was read, bit 2 with a new frame of the sun
    sensor, or none to be had; whoever has looked at them clears it."""

    def __init__(self, board, s):
        board.sensors(s)
        self.board = board
        self.s = s
        self.second = board.second
        self.gust_m_s = self.supply_v = self.board_c = None
        self.lean = None
        self.absolute_udeg = [None, None]
        self.same = [0, 0]  # readings in a row that told the very same
        self.sun_w_m2 = None
        self.fresh = 0
        self.silent_ms = Silence()
        self._pulses = [0] * _GUST
        self._times = [0] * _GUST
        self._k = 0
        self._since = [_SLOW_MS, _ENCODER_MS, _LIGHT_MS, _BOARD_MS]
        self._lean = [0, 0]
        self._vec = [0.0, 0.0, 0.0]
        self._rounds = 0

    def tick(self, dt_ms):
        since = self._since
        for i in range(4):
            since[i] += dt_ms
        if since[1] >= _ENCODER_MS:
            self._encoders(since[1])
            since[1] = 0
        if since[2] >= _LIGHT_MS and self.second is not None:
            self._second(since[2])
            since[2] = 0
        if since[0] >= _SLOW_MS:
            self._wind(since[0])
            self._tilt(since[0])
            if self.board.spare is not None:
                self.board.spare.tick()
            since[0] = 0
        elif since[3] >= _BOARD_MS:
            self.board_c = self.board.rtc.temperature_c()
            since[3] = 0

    def _wind(self, dt_ms):
        if self.board.wind is None:
            return
        pulses = self.board.wind.read()
        if pulses is None:
            self.silent_ms.wind += dt_ms
            return
        self.silent_ms.wind = 0
        self._pulses[self._k], self._times[self._k] = pulses, dt_ms
        self._k = (self._k + 1) % _GUST
        self.gust_m_s = sum(self._pulses) * 1000.0 / (sum(self._times) * self.s.sensor_wind_hz_per_m_s)

    def _tilt(self, dt_ms):
        tilt = self.board.tilt
        if tilt is None:
            return
        if tilt.read():
            self.silent_ms.tilt = 0
            self._lean[0], self._lean[1] = tilt.east_udeg, tilt.north_udeg
            self.lean = self._lean
        else:
            self.silent_ms.tilt += dt_ms

    def _encoders(self, dt_ms):
        silent = False
        for k in range(2):
            sensor = self.board.absolute[k]
            if sensor is None:
                continue
            got = sensor.read_udeg()
            self.same[k] = self.same[k] + 1 if got == self.absolute_udeg[k] else 0
            self.absolute_udeg[k] = got
            if got is None:
                silent = True
            else:
                self.fresh |= 1 << k
        self.silent_ms.absolute = self.silent_ms.absolute + dt_ms if silent else 0

    def _second(self, dt_ms):
        second = self.second
        second.tick(dt_ms)
        if not second.ready:
            self.sun_w_m2 = self.supply_v = None
            self.fresh |= 4
            return
        if self.s.sensor_supply_ratio > 0:
            self.supply_v = second.supply_v(self.s.sensor_supply_ratio)
        if self.s.sensor_sun and second.rounds != self._rounds:
            self._rounds = second.rounds
            second.look(self.s.sensor_sun_w_m2_full, self._vec)
            self.sun_w_m2 = self._vec
            self.fresh |= 4
