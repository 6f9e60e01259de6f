"""Reads light and probes at a bounded pace: one transfer from one probe and one conversion of light a tick.

Units: W/m2, ms. board: light (tick, beam, open, silent_ms), contents and underside (thermocouples).
"""

from ..heat.probe import Probe

_LIGHT_MS = 500
_PROBE_MS = 1_000


class Sensors:
    """beam_w_m2, open_w_m2: light; contents, underside: Probe, or None where none is fitted."""

    def __init__(self, board, s):
        self.light = board.light
        self.contents = Probe(board.contents) if s.probe_contents else None
        self.underside = Probe(board.underside) if s.probe_underside else None
        self.beam_w_m2 = self.open_w_m2 = 0.0
        self._beam_full = s.sensor_beam_w_m2_full
        self._open_full = s.sensor_open_w_m2_full
        self._light_ms = _LIGHT_MS
        self._since = [_PROBE_MS, _PROBE_MS]
        self._probes = (self.contents, self.underside)

    def tick(self, dt_ms, pot_seen):
        """pot_seen: without the pot the probe in it is looked at at every tick, to tell a lifted pot."""
        self._light_ms += dt_ms
        if self._light_ms >= _LIGHT_MS:
            self.light.tick(self._light_ms)
            self._light_ms = 0
            self.beam_w_m2 = self.light.beam.read_u16() * self._beam_full / 65535
            self.open_w_m2 = self.light.open.read_u16() * self._open_full / 65535
        since = self._since
        since[0] += dt_ms
        since[1] += dt_ms
        k = 0 if since[0] >= since[1] or not pot_seen else 1
        if self._probes[k] is None:
            k = 1 - k
        probe = self._probes[k]
        if probe is not None and (since[k] >= _PROBE_MS or (k == 0 and not pot_seen)):
            probe.read(since[k])
            since[k] = 0
