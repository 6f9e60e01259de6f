"""The emulated chip's USB serial as a port of the host library, and the host's clock set to the chip's.

Units: s of emulated time, bytes. The host waits by this clock, so that a slow emulator is no slow board: all
of sunhob.link and sunhob.board (raw_repl, reach, install) runs as it does on a desk.
"""

from sunhob import link
from sunhob.board import install, raw_repl, reach
from sunhob.errors import LinkError

from .emulator import Chip

READ_S = 0.05  # as long as sunhob.link.open_wire lets a port wait
_UP_S = 10.0  # MicroPython makes its file system, and runs boot.py, before it comes onto the bus


class Port:
    """read, write, close, in_waiting as pyserial has them; OSError once the board has restarted."""

    def __init__(self, chip: Chip) -> None:
        self.chip = chip
        self._held = bytearray()
        self._start = chip.restarts
        chip.on_serial = self._take

    @property
    def in_waiting(self) -> int:
        """Bytes at hand."""
        return len(self._held)

    def read(self, size: int = 1, /) -> bytes:
        """Up to so many bytes; waits READ_S for the first."""
        if not self._held:
            self._there()
            self.chip.run(READ_S)
        got = bytes(self._held[:size])
        del self._held[: len(got)]
        return got

    def write(self, data: bytes, /) -> int:
        """Hand bytes over; they go as the chip takes them."""
        self._there()
        self.chip.send(bytes(data))
        return len(data)

    def close(self) -> None:
        """What comes from now on is lost, as on a board that nobody listens to."""
        self.chip.on_serial = lambda data: None

    def _take(self, data: bytes) -> None:
        self._held += data
        self.chip.halt()

    def _there(self) -> None:
        if self.chip.restarts != self._start:
            raise OSError("the board has gone from the bus")


class HostClock:
    """Stands for the module `time` in the host library."""

    def __init__(self, chip: Chip) -> None:
        self.chip = chip

    def monotonic(self) -> float:
        return self.chip.seconds

    def sleep(self, seconds: float) -> None:
        """Wait, the chip running on."""
        until = self.chip.seconds + seconds
        while self.chip.seconds < until:
            self.chip.run(until - self.chip.seconds)


class Desk:
    """open(): the port, as sunhob.link.open_wire gives one; keep_time(): set the host's clock."""

    def __init__(self, chip: Chip) -> None:
        self.chip = chip
        self.clock = HostClock(chip)

    def open(self, _url: str = "") -> Port:
        """The port, once the chip is on the bus; LinkError where it does not come."""
        until = self.chip.seconds + _UP_S
        while not self.chip.there:
            if self.chip.seconds >= until:
                raise LinkError("port of the emulated chip: does not come onto the bus")
            self.chip.run(until - self.chip.seconds)
        return Port(self.chip)

    def keep_time(self, monkeypatch) -> None:
        """Have the host library go by the chip's time until the test ends."""
        for module in (link, raw_repl, reach, install):
            monkeypatch.setattr(module, "time", self.clock)
