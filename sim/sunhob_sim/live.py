"""A live virtual board on a port: the bench in step with the wall clock, for `sunhob dish` and the page.

Units: seconds of wall time and of virtual time, us where the name says so, bytes on the port.
"""

import contextlib
import socket
import sys
import time
from datetime import datetime, timedelta
from typing import Annotated

import typer
from sunhob.errors import LinkError, UserError

from . import scenario as scenarios
from .bench import Bench, mount_of, sight_of

_WAIT_S = 0.02
_CYCLES_TO_ANSWER = 3
_HELD_MAX = 65_536  # bytes kept for a host that does not read; the oldest go first


class LivePort:
    """Looks like a serial port; behind it one scenario runs on, its cook included, until closed.

    start_s: virtual seconds run through at once before the port opens. speed: virtual s per wall s; 0: the
    board's time goes on only while an answer is waited for, and by run_for().
    """

    def __init__(self, bench: Bench, start_s: float = 0.0, speed: float = 1.0) -> None:
        self.bench = bench
        self.speed = speed
        self._held = bytearray()
        self._asked = 0  # cycles to run ahead so that what was asked is answered
        bench.board.on_uart = self._heard
        bench.engine.boot()
        while bench.board.now_us < start_s * 1e6:
            bench.engine.cycle()
        self._held.clear()
        self._from_us = bench.board.now_us
        self._began = time.monotonic()

    def _heard(self, _port: int, data: bytes) -> None:
        if b'"id"' in data:  # the answer: no need to run further ahead of the wall clock
            self._asked = 0
        self._held += data
        del self._held[:-_HELD_MAX]

    def run_on(self) -> None:
        """Let the board catch up with the wall clock; what was just asked it hears at once."""
        board, end_us = self.bench.board, self.bench.scenario.seconds * 1e6
        wall_us = (time.monotonic() - self._began) * 1e6
        due_us = self._from_us + wall_us * self.speed
        give_up = time.monotonic() + 0.2
        while (board.now_us < due_us or self._asked > 0) and time.monotonic() < give_up:
            if board.now_us >= end_us:
                raise LinkError(f"port bench:{self.bench.scenario.name}: the scenario is over")
            self._asked = max(0, self._asked - 1)
            self.bench.engine.cycle()

    def run_for(self, seconds: float) -> None:
        """Run through so much virtual time at once."""
        board = self.bench.board
        start_us, end_us = board.now_us, self.bench.scenario.seconds * 1e6
        while board.now_us < start_us + seconds * 1e6:
            if board.now_us >= end_us:
                raise LinkError(f"port bench:{self.bench.scenario.name}: the scenario is over")
            self.bench.engine.cycle()
        self._from_us += board.now_us - start_us

    def utc(self) -> datetime:
        """The true time on the bench."""
        return self.bench.scenario.start + timedelta(microseconds=self.bench.board.now_us)

    def sight(self) -> tuple[float, float]:
        """What the shadow sight shows: turns of both axes [deg] that would bring the dish onto the sun."""
        return sight_of(self.bench.plant)

    def cover(self, on: bool) -> None:
        """The cook lays the mask over the mirror, or takes it off."""
        self.bench.cook.covered = on
        self.bench.bridge.hands()

    def read(self, size: int = 1) -> bytes:
        """What the board has sent, up to `size`; waits a short while and may return nothing."""
        self.run_on()
        if not self._held and self.speed:
            time.sleep(_WAIT_S)
        elif not self._held:
            self.bench.engine.cycle()
        got = bytes(self._held[:size])
        del self._held[: len(got)]
        return got

    @property
    def in_waiting(self) -> int:
        return len(self._held)

    def write(self, data: bytes) -> int:
        self.bench.board.uart_send(bytes(data))
        self._asked = _CYCLES_TO_ANSWER
        return len(data)

    def close(self) -> None:
        self.bench.close()


def open_port(name: str, engine: str = "cpython", speed: float = 1.0, cooker: str = "") -> LivePort:
    """`SCENARIO` or `SCENARIO@HH:MM` (UTC: run up to that time first), as a port.

    cooker: a cooker file whose settings the board holds, in place of the scenario's own; the dish stands as
    it did."""
    name, _, at = name.partition("@")
    one = scenarios.load(name)
    start_s = 0.0
    if at:
        try:
            start_s = one.offset_s(at)
        except ValueError:
            raise UserError(f"bench: '{at}' is not a time; write {name}@HH:MM in UTC") from None
        if not 0 <= start_s < one.seconds:
            raise UserError(f"bench: {at} UTC is outside the scenario; it lasts {one.seconds / 3600:.1f} h")
    if not cooker:
        return LivePort(Bench(one, engine), start_s, speed)
    bench = Bench(one.model_copy(update={"cooker": cooker, "settings": {}}), engine)
    bench.plant.stand(mount_of(one, scenarios.cooker_of(one)))
    return LivePort(bench, start_s, speed)


def serve(port: LivePort, listener: socket.socket) -> None:
    """Hand the port to one caller after another; the board runs on between them."""
    listener.settimeout(_WAIT_S)
    while True:
        port.run_on()
        try:
            caller, _ = listener.accept()
        except TimeoutError:
            continue
        with caller, contextlib.suppress(OSError):
            _attend(port, caller)


def _attend(port: LivePort, caller: socket.socket) -> None:
    caller.settimeout(_WAIT_S)
    while True:
        out = port.read(4096)
        if out:
            caller.sendall(out)
        try:
            data = caller.recv(4096)
        except TimeoutError:
            continue
        if not data:
            return
        port.write(data)


def serve_command(
    scenario: Annotated[str, typer.Argument(help="a .toml file or a shipped scenario, or NAME@HH:MM (UTC)")],
    tcp_port: Annotated[int, typer.Option("--tcp", min=1, max=65535, help="TCP port on this machine")] = 7777,
    engine: Annotated[str, typer.Option("--engine", help="micropython or cpython")] = "cpython",
    speed: Annotated[float, typer.Option("--speed", min=0.1, max=600, help="virtual s per wall s")] = 1.0,
) -> None:
    """A live virtual board on this machine's TCP port, for `sunhob dish --port socket://localhost:7777`."""
    if engine not in ("micropython", "cpython"):
        raise UserError(f"engine {engine}: give one of micropython, cpython")
    with socket.create_server(("127.0.0.1", tcp_port)) as listener:
        port = open_port(scenario, engine, speed)
        typer.echo(f"Virtual board of {scenario} on socket://localhost:{tcp_port}; Ctrl-C ends it.")
        sys.stdout.flush()
        try:
            serve(port, listener)
        finally:
            port.close()
