"""A board of plain Python for tests of the controller alone: no shims, no plant, time by hand.

Units: ms, ADC counts. Drives consume their segments in time; axes are where their steps put them.
"""

import gc
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sunhob.code_list import code_list
from sunhob.heat_table import build_heat_table
from sunhob.settings import load_cooker
from sunhob.sun_table import build_table
from sunhob_board.core import panel as keys
from sunhob_board.core.app import App
from sunhob_board.declared import events as ev
from sunhob_board.link import frame
from sunhob_board.selfcheck import proof

from .clock_chip import Chip

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


class FakeDrive:
    """Takes up to 8 segments (forward, steps, period_us) and runs them as time passes."""

    def __init__(self):
        self.queue = []
        self.steps = 0
        self.left_us = 0

    def free(self):
        return 8 - len(self.queue)

    def push(self, forward, steps, period_us):
        assert steps > 0 and self.free() > 0
        self.queue.append([1 if forward else -1, steps, period_us])

    def clear(self):
        self.queue.clear()

    def advance(self, ms):
        self.left_us += ms * 1000
        while self.queue:
            sign, steps, period = self.queue[0]
            can = min(steps, self.left_us // period)
            self.steps += sign * can
            self.left_us -= can * period
            if can < steps:
                self.queue[0][1] -= can
                return
            self.queue.pop(0)
        self.left_us = 0


class Wire:
    """Stands for the UART: what the board sends is kept, what a host sends is handed on."""

    def __init__(self):
        self.sent = bytearray()
        self.coming = bytearray()

    def any(self):
        return len(self.coming)

    def readinto(self, buf, n):
        n = min(n, len(self.coming))
        buf[:n] = self.coming[:n]
        del self.coming[:n]
        return n

    def write(self, data):
        self.sent += data
        return len(data)


class Level:
    def __init__(self, value=0):
        self.value = value

    def read_u16(self):
        return self.value


class Tube:
    """The tube: as bright as `level` says where it looks near the sun, dark elsewhere."""

    def __init__(self, level, sees):
        self.level, self.sees = level, sees

    def read_u16(self):
        return self.level.value if self.sees() else 0


class Noisy:
    """A sensor's level under noise of one count."""

    def __init__(self, level):
        self.level, self.flip = level, 0

    def read_u16(self):
        self.flip ^= 1
        value = self.level.read_u16()
        return value - self.flip if value else 0


class FakeLight:
    """The light converter: the two levels are there at once."""

    def __init__(self, beam, open_cell):
        self.beam, self.open = beam, open_cell
        self.silent_ms = 0
        self.rail_mv = 3300

    def tick(self, dt_ms):
        pass


class FakeProbe:
    """A thermocouple converter: set mc or fault; every frame differs unless it is stuck."""

    def __init__(self, mc=25_000):
        self.mc = mc
        self.fault = 0
        self.stuck = False
        self.frame = bytearray(4)

    def read(self):
        if not self.stuck:
            self.frame[3] = (self.frame[3] + 16) & 0xF0
        return self.fault


class FakeSun:
    """The sun sensor: as bright as the beam, and seen where the dish would see it from where it is counted
    to be; `off` [a fraction of the beam] is added to what it sees to the right."""

    inputs, silent_ms = 3, 0

    def __init__(self, board):
        self.board, self.rounds, self.off = board, 0, 0.0

    def tick(self, _dt_ms):
        self.rounds += 1

    @property
    def ready(self):
        return self.board.app.sun is not None

    def look(self, full_w_m2, out):
        app = self.board.app
        mount, beam = app.controller.mount, self.board.beam.value * full_w_m2 / 65535
        mount.geometry.seen_from_dish(app.sun.e, app.sun.n, app.sun.u, mount.axes[0].position_udeg,
                                      mount.axes[1].position_udeg, out)
        along = 0.866 * out[2]  # each pair leans 30 deg to either side
        for i in (0, 1):
            out[i] = max(0.0, along + 0.5 * out[i]) - max(0.0, along - 0.5 * out[i])
        out[0] += self.off
        out[2] = max(0.0, out[2])
        up = [0.0, 0.0, 0.0]
        one, two = mount.axes
        mount.geometry.seen_from_dish(0.0, 0.0, 1.0, one.position_udeg, two.position_udeg, up)
        light = app.sensors.open_w_m2
        sky, ground = max(0.0, light - beam * app.sun.u), 0.2 * light
        for i in range(3):
            out[i] = out[i] * beam + 0.5 * (sky - ground) * up[i] + 0.01 * (self.rounds & 1)
        out[2] += 0.5 * (sky + ground)


class FakeBoard:
    """One cycle at a time: set fields, call run(seconds)."""

    NAME = "test"

    def __init__(self, folder: Path, when: datetime, table_start: datetime | None = None):
        self.DATA = self.CODE = f"{folder}/"
        self.now = 2**30 - 5_000
        table = build_table((table_start or datetime(when.year - 1, 12, 1)).date(), 3)
        (folder / "sun.tab").write_bytes(table)
        (folder / "heat.tab").write_bytes(build_heat_table(load_cooker()))
        since = when - EPOCH
        self.rtc = Chip(since.days, since.seconds * 1000)
        self.uart = Wire()
        self.beam, self.open, self.knob = Level(40_000), Level(40_000), Level(0)
        self.rtc.ram_write(proof.OFFSET, proof.record(proof.PROVEN, since.days))
        (folder / "part.mpy").write_bytes(b"program")
        (folder / "code.crc").write_bytes(code_list({"part.mpy": b"program"}))
        self.light = FakeLight(Noisy(Tube(self.beam, self._sees)), Noisy(self.open))
        self.contents, self.underside = FakeProbe(), FakeProbe()
        self.second = self.wind = self.tilt = self.spare = None
        self.absolute = (None, None)
        self.mask = keys.CHAIN | keys.POT
        self.pair = (FakeDrive(), FakeDrive())
        self.out = 0
        self.stuck = self.bitten = 0
        self.fed = 0
        self.events: list[tuple[str, int, int]] = []
        self.app: App | None = None

    def sensors(self, s):
        """Further sensors: what a test has put there, and the sun sensor."""
        if s.sensor_sun and self.second is None:
            self.second = FakeSun(self)

    def drives(self, s):
        return self.pair

    def about(self):
        return {"micropython": "1.24.0", "flash_free": 65536, "heap_free": None}

    def start_watchdog(self):
        self.fed = 0

    def feed(self):
        self.fed += 1

    def ticks_ms(self):
        return self.now

    def reset_cause(self):
        return 1

    def _placed(self):
        """The mount, where its drives are taken to stand where it counts them."""
        c = getattr(self.app, "controller", None)
        return None if c is None or c.homing_needed else c.mount

    def _sees(self):
        mount = self._placed()
        if mount is None or not self.app.sun_ok:
            return True
        v = [0.0, 0.0, 0.0]
        mount.enu(v)
        return self.app.sun.separation_udeg(*v) < 20e6

    def read_inputs(self):
        """The mask; home flags that no test moves stand as the axes are counted."""
        mount = self._placed()
        flags = 0
        if mount is not None:
            for bit, axis in zip((keys.HOME1, keys.HOME2), mount.axes, strict=True):
                flags |= bit if axis.position_udeg <= axis.home_udeg else 0
        return self.mask | flags

    def write_outputs(self, mask):
        self.out = mask

    def read_back(self, tries):
        return self.stuck

    def bite(self):
        self.bitten += 1

    def all_off(self):
        self.out = 0

    def idle(self, ms):
        ms = max(1, ms)
        self.now = (self.now + ms) & (2**30 - 1)
        self.rtc.carry(ms)
        if self.out & 1:
            for drive in self.pair:
                drive.advance(ms)

    def boot(self):
        self.app = App(self)
        gc.freeze()  # the board collects often; what the tests hold need not be looked through each time
        return self.app

    def run(self, seconds, until=None):
        """Cycle for so many seconds, or until the condition holds; returns the seconds spent."""
        assert self.app is not None
        spent = 0
        while spent < seconds * 1000:
            before = self.now
            self.app.cycle()
            spent += (self.now - before) & (2**30 - 1)
            self._collect()
            if until is not None and until():
                break
        return spent / 1000

    def _collect(self):
        import json

        while b"\n" in self.uart.sent:
            line, _, rest = bytes(self.uart.sent).partition(b"\n")
            self.uart.sent[:] = rest
            message = json.loads(frame.decode(line))
            if message.get("method") == "event":
                p = message["params"]
                assert p["e"] in ev.CODES
                self.events.append((p["e"], p["a"], p["b"]))

    def press(self, bit):
        self.mask |= bit
        self.run(0.3)
        self.mask &= ~bit
        self.run(0.2)

    def ask(self, method, **params):
        """One request over the link; the decoded reply."""
        import json

        self.uart.coming += frame.pack({"jsonrpc": "2.0", "id": 1, "method": method, "params": params})
        for _ in range(200):
            assert self.app is not None
            self.app.cycle()
            for line in bytes(self.uart.sent).split(b"\n"):
                if b'"id": 1' in line or b'"id":1' in line:
                    reply = json.loads(frame.decode(line))
                    self._collect()
                    return reply
            self._collect()
        raise AssertionError("no reply")

    def names(self):
        return [e[0] for e in self.events]

    def time(self):
        return EPOCH + timedelta(days=self.rtc.day, milliseconds=self.rtc.ms)
