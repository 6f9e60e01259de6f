"""Random, mutated and replayed lines against the real firmware's link. Units: lines, bytes, ms.

Run as `make fuzz` (a million lines with FULL=--full); a small number of the same runs in the tests. What is a
valid line is judged here by the standard library's CRC-32, not by the firmware's.
"""

import argparse
import json
import random
import sys
import tempfile
import time
import zlib
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from sunhob_board.declared import modes
from sunhob_board.declared.methods import METHODS
from sunhob_board.link import port
from sunhob_sim.bench import Bench
from sunhob_sim.scenario import parse

from tests.fake_board import FakeBoard
from tests.held_memory import held_bytes
from tests.test_controller import save_settings

NIGHT = datetime(2026, 3, 1, 20, 0, 0, tzinfo=UTC)
_DAY = (NIGHT - datetime(2000, 1, 1, tzinfo=UTC)).days
BATCH = 16
_FOLLOWS_S = 5  # a motion asked for by a valid line begins after its warning
FULL, USUAL = 1_000_000, 50_000
_BAR_S, _LINE_S = 0.2, 20.0  # between two looks of the bar, and of the lines in its place


def framed(body: bytes) -> bytes:
    """A line as it should be, its check sum by the standard library."""
    return body + b" #%08X\n" % zlib.crc32(body)


def is_valid(line: bytes) -> bool:
    """Whether a line (without line feed) proves itself."""
    line = line.removesuffix(b"\r")
    body = line[:-10]
    good = len(line) > 6 and framed(body)[:-1] == line and all(32 <= byte <= 126 for byte in body)
    return good and len(line) <= 512


class Lines:
    """Draws lines from a seed; what was sent before is sent again at times."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.old: list[bytes] = [b"{}"]

    def _value(self, kind: str, low: object, high: object) -> object:
        strange = (None, True, -1, 1e308, "", "x" * 40, [], {}, [[[]]], 2**31, -(2**40), 0.1)
        if self.chance.random() < 0.3:
            return self.chance.choice(strange)
        if kind == "choice":
            assert isinstance(low, tuple)
            return self.chance.choice(low)
        if kind == "bool":
            return self.chance.random() < 0.5
        assert isinstance(low, int) and isinstance(high, int)
        return self.chance.choice((low, high, self.chance.randint(low, high), low - 1, high + 1))

    def request(self) -> bytes:
        """A good frame around a request that may make sense."""
        name, params, *_ = self.chance.choice(METHODS)
        given = {p[0]: self._value(p[1], p[2], p[3]) for p in params if self.chance.random() < 0.8}
        body: dict[str, object] = {"jsonrpc": "2.0", "id": self.chance.choice((1, "a", None, 2**40)),
                                   "method": name, "params": given}
        if self.chance.random() < 0.15:
            body[self.chance.choice(("id", "extra", "jsonrpc", "method"))] = self._value("bool", 0, 1)
        return framed(json.dumps(body).encode())

    def draw(self) -> bytes:
        """The next line, mostly a bad one."""
        chance = self.chance
        kind = chance.random()
        if kind < 0.25:
            return chance.randbytes(chance.choice((1, 5, 40, 300, 700))) + b"\n"
        if kind < 0.40:
            line = self.request()
            self.old = [*self.old[-63:], line]
            return line
        if kind < 0.50:
            return chance.choice(self.old)
        if kind < 0.60:
            text = chance.choice((b"[" * 200, b'{"a":' * 60, b"1e999", b'"\\u0000"', b"{}", b"nul", b"-"))
            return framed(text)
        line = bytearray(self.request() if kind < 0.8 else chance.choice(self.old))
        for _ in range(chance.choice((1, 1, 2, 8))):
            self._spoil(line)
        return bytes(line)

    def _spoil(self, line: bytearray) -> None:
        at = self.chance.randrange(max(1, len(line)))
        how = self.chance.randrange(4)
        if how == 0 and line:
            line[at % len(line)] ^= 1 << self.chance.randrange(8)
        elif how == 1:
            del line[at : at + self.chance.randrange(1, 9)]
        elif how == 2:
            line[at:at] = self.chance.randbytes(self.chance.randrange(1, 9))
        else:
            line[at:at] = line[: self.chance.randrange(1, 30)]


def state_of(app) -> tuple:
    """What no line may change but a valid one. Interlocks trip by the hour and a new day's sun too; and once
    a valid line has set another day, the dish may move to another resting place by itself."""
    c = app.controller
    where = (c.mode, app.mount.moving) if app.clock.day == _DAY else ()
    return (*where, c.armed_ms > 0, c.dial.kind, c.dial.asked, c.heat_permille, app.north_deg,
            app.telemetry_ms, tuple(vars(app.s).values()))


class Fuzz:
    """A parked board at night under a stream of lines; run() raises AssertionError at the first wrong."""

    def __init__(self, folder: Path, seed: int) -> None:
        save_settings(folder)
        self.lines = Lines(seed)
        self.board = FakeBoard(folder, NIGHT)
        app = self.app = self.board.boot()
        app.mount.set_position(*app.controller.park)
        app.controller.homing_needed = app.controller.on_sun = False
        app.conditions.restarted = False
        self.board.run(5)
        self.valid = self.sent = self.unchanged = self.done = 0
        app.rpc._call = self._counted(app.rpc._call)
        self.rest = b""

    def _counted(self, call):
        def counted(*args):
            self.done += 1
            return call(*args)

        return counted

    def batch(self) -> None:
        """Some lines, and cycles until all are read."""
        b, app = self.board, self.app
        drawn = [self.lines.draw() for _ in range(BATCH)]
        if self.sent // BATCH % 2:  # nothing valid in every other batch
            drawn = [line for line in drawn if not is_valid(line[:-1])]
            self._wait(_FOLLOWS_S)  # what the valid ones before led to is over
        data = b"".join(drawn)
        whole = (self.rest + data).split(b"\n")
        self.rest = whole.pop()[-600:]
        good = sum(is_valid(line) for line in whole)
        self.valid += good
        self.sent += BATCH
        before, day, done = state_of(app), app.clock.day, self.done
        b.uart.coming += data
        for _ in range(400):  # a line is heard at every other tick
            app.cycle()
            b.uart.sent.clear()
            if not b.uart.coming and app.port._next >= app.port._have:
                break
        assert not b.uart.coming, "it no longer reads"
        c = app.controller
        assert c.mode in (modes.PARKED, modes.BY_HAND, modes.LEAVING), modes.NAMES[c.mode]
        assert c.armed_ms <= 0 and not b.out & 8
        assert self.done - done <= good, "a line that proves nothing was carried out"
        if not good and c.mode == modes.PARKED:
            self.unchanged += 1
            assert state_of(app) == before and abs(app.clock.day - day) <= 1, "changed by an invalid line"
        assert len(app.port._queue) <= port.MAX_LINES and app.port.queued_bytes <= port.MAX_BYTES
        assert len(app.port._line) <= 512

    def _wait(self, seconds: int) -> None:
        begun, wire = self.board.now, self.board.uart
        while (self.board.now - begun) & (2**30 - 1) < 1000 * seconds:
            self.app.cycle()
            wire.sent.clear()

    def _hears_out(self) -> None:
        """What the board is in the middle of telling is told to its end: whole lines follow."""
        for _ in range(1000):
            self.app.cycle()
            self.board.uart.sent.clear()
            if not self.app.port.busy:
                return
        raise AssertionError("it never comes to the end of what it tells")

    def settle(self) -> None:
        """A new day begins: nothing of the last lines is left in force."""
        self.board.uart.coming += b"\n"
        self.rest = b""
        app = self.app
        app.clock.set(_DAY, 72_000_000)
        app.telemetry_ms = 500
        app.controller.ask_leave()
        self._hears_out()
        self.board.run(400, lambda: app.controller.mode == modes.PARKED and not app.controller.busy)
        self.board.uart.sent.clear()

    def telemetry(self) -> int:
        """Telemetry lines in five seconds."""
        self.app.telemetry_ms = 500
        b, count = self.board, 0
        sent = bytearray()
        for _ in range(400):
            self.app.cycle()
            sent += b.uart.sent
            b.uart.sent.clear()
            count = sent.count(b'"telemetry"')
            if count >= 5:
                break
        return count

    def deaf(self) -> None:
        """A host that takes nothing: the loop goes on and the queue stays bounded."""
        wire, app = self.board.uart, self.app
        taken, wire.write = wire.write, lambda data: None
        app.telemetry_ms = 500
        before = self.board.now
        for _ in range(100):
            wire.coming += self.lines.request()
            app.cycle()
            app.cycle()  # this one hears it
        assert (self.board.now - before) & (2**30 - 1) >= 100
        assert len(app.port._queue) <= port.MAX_LINES and app.worst_ms == 0
        wire.write = taken


def fuzz_cpython(count: int, seed: int, told=None) -> dict[str, int]:
    """`count` lines on CPython; figures of the run. told: hears the lines done."""
    with tempfile.TemporaryDirectory() as folder:
        one = Fuzz(Path(folder), seed)
        batches = max(4, count // BATCH)
        held = []
        for number in range(batches):
            one.batch()
            if number % 64 == 63:
                one.settle()
                one.deaf()
                assert one.telemetry() >= 5, "telemetry has stopped"
            if number == batches // 3 or number == batches - 1:
                one.settle()
                held.append(held_bytes(one.app, one.board))
            if told is not None:
                told(one.sent)
        rpc = one.app.rpc
        return {"lines": one.sent, "valid": one.valid, "bad_lines": rpc.bad_lines, "refused": rpc.refused,
                "faults": rpc.faults, "overlong": one.app.port.overlong, "unchanged": one.unchanged,
                "heap_grown_bytes": held[1] - held[0]}


def fuzz_micropython(count: int, seed: int, told=None) -> dict[str, int]:
    """`count` lines on real MicroPython, on the bench at night. told: hears the lines done."""
    hours = max(0.2, count / 20 / 3600 + 0.1)
    text = f'name = "fuzz"\nstart = {NIGHT.isoformat()}\nhours = {min(hours, 1000):.3f}\n'
    bench = Bench(parse(text), "micropython")
    lines = Lines(seed)
    try:
        bench.engine.boot()

        def until(us: float) -> None:
            while bench.board.now_us < us:
                bench.engine.cycle()

        def send(some: int) -> None:
            for _ in range(some):
                line = lines.draw()
                bench.board.uart_send(line)
                until(bench.board.now_us + 20_000)

        until(120e6)
        for done in range(16, count // 2 + 1, 16):
            send(16)
            if told is not None:
                told(done)
        bench.board.uart_send(b"\n" + framed(b'{"jsonrpc":"2.0","method":"subscribe","params":[0]}'))
        until(bench.board.now_us + 90e6)
        before = bench.engine.heap_bytes()
        for done in range(count // 2 + 16, count + 1, 16):
            send(16)
            if told is not None:
                told(done)
        bench.board.uart_send(b"\n" + framed(b'{"jsonrpc":"2.0","method":"subscribe","params":[0]}'))
        until(bench.board.now_us + 90e6)
        after = bench.engine.heap_bytes()
        bench.uplink.replies.clear()
        bench.board.uart_send(b"\n" + framed(b'{"jsonrpc":"2.0","id":77,"method":"status"}'))
        until(bench.board.now_us + 3e6)
        answered = any(reply["id"] == 77 for reply in bench.uplink.replies)
        armed = any(e["name"] == "armed" for e in bench.uplink.events)
        return {"lines": count, "heap_grown_bytes": after - before, "resets": len(bench.engine.resets),
                "answers": int(answered), "armed": int(armed), "bad_replies": bench.uplink.bad}
    finally:
        bench.close()


class Told:
    """A bar with count, rate and time left on standard error; where that is no terminal, lines."""

    def __init__(self, what: str, total: int) -> None:
        console = Console(stderr=True)
        self.what, self.total, self.plain = what, total, not console.is_terminal
        self.bar = Progress(
            TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(),
            TextColumn("{task.fields[rate]}"), TimeRemainingColumn(), console=console, disable=self.plain)
        self.task = self.bar.add_task(what, total=total, rate="")
        self.begun_s = self.last_s = time.monotonic()

    def __enter__(self) -> "Told":
        self.bar.start()
        return self

    def __exit__(self, *_how: object) -> None:
        self.bar.stop()

    def __call__(self, done: int) -> None:
        now_s = time.monotonic()
        if now_s - self.last_s < (_LINE_S if self.plain else _BAR_S) and done < self.total:
            return
        self.last_s = now_s
        rate = done / max(now_s - self.begun_s, 1e-3)
        if self.plain:
            left_s = (self.total - done) / rate
            print(f"{self.what}: {done} of {self.total}, {rate:.0f} a second, {left_s:.0f} s left",
                  file=sys.stderr, flush=True)
        else:
            self.bar.update(self.task, completed=done, rate=f"{rate:.0f}/s")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="a million lines, 20,000 on MicroPython")
    parser.add_argument("--lines", type=int, default=None)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    count = given.lines or (FULL if given.full else USUAL)

    with Told("lines on CPython", count) as told:
        many = fuzz_cpython(count, given.seed, told)
    print(json.dumps({"cpython": many}), flush=True)
    with Told("lines on MicroPython", count // 50) as told:
        few = fuzz_micropython(count // 50, given.seed, told)
    print(json.dumps({"micropython": few}))
    return int(few["resets"] > 0 or not few["answers"] or few["armed"] > 0)


if __name__ == "__main__":
    sys.exit(main())
