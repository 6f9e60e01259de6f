"""The bench's side of the virtual board: time, pins, buses, watchdog, and the plant behind them.

Units: us of virtual time (from the start of the bench; a restart does not set it back), pin levels
0/1, ADC counts 0..65535.
"""

from collections import deque
from collections.abc import Callable
from typing import Any, Protocol

from .flash_store import FlashStore, PowerCut
from .pio_queue import PioQueue

CAUSE_POWER_ON = 1
CAUSE_WATCHDOG = 3
CAUSE_RESET = 2
_MASK = (1 << 30) - 1
_STALE_US = 1000  # an edge that is told as due and does not come is looked for again after this


class BoardReset(BaseException):
    """The board has reset itself: cause is what machine.reset_cause() will tell."""

    def __init__(self, cause: int) -> None:
        super().__init__(f"board reset, cause {cause}")
        self.cause = cause
        self._over: BaseException | None = None


class Plant(Protocol):
    """What stands behind the pins. motion() is told each word; None in place of words: cleared."""

    def advance(self, to_us: int) -> None: ...
    def outputs(self, changes: dict[int, int]) -> None: ...
    def motion(self, sm_id: int, words: list[int] | None) -> None: ...
    def next_edge_us(self) -> int | None: ...
    def inputs(self) -> dict[int, int]: ...
    def adc(self) -> list[int]: ...


class VirtualBoard:
    """One board: flash, clock chip and time stay over restarts, everything else is new with each.

    devices: by I2C address; spi_devices: by the pin that selects them. A read tells the state of the moment
    and changes none; what time brings about in a device it does in its settle(now_us), where it has one.
    queues: state machine -> PioQueue. A plant with a method attach(board) gets the board at once and
    reads board.queues[...].steps_done(us), board.queues[...].level(us).
    machine: what os.uname() tells of it; kind: of board, by the firmware's name for it.
    """

    machine, kind = "Raspberry Pi Pico with RP2040", "pico"

    def __init__(
        self,
        plant: Plant,
        devices: dict[int, Any] | None = None,
        flash: FlashStore | None = None,
        on_uart: Callable[[int, bytes], None] | None = None,
        first_ticks_ms: int = 0,
        spi_devices: dict[int, Any] | None = None,
    ) -> None:
        self.plant, self.devices, self.spi_devices = self._wired(
            plant, devices if devices is not None else {}, spi_devices if spi_devices is not None else {})
        self._settling = [one.settle for one in self.devices.values() if hasattr(one, "settle")]
        self.flash_store = flash or FlashStore()
        self.on_uart = on_uart or (lambda port, data: None)
        self.first_ticks_ms = first_ticks_ms & _MASK
        self.now_us = 0
        self.exchanges = 0
        self.queues: dict[int, Any] = {}  # PioQueue, or what answers the same
        self._uart_in: deque[tuple[int, int, bytes]] = deque()
        self.stall_us = 0  # the processor is kept busy so long, once
        self.flash_stall_us = 0  # and so long at every step of the flash
        self._reset_soon = False
        self._outage_us = 0
        self._start_fresh(CAUSE_POWER_ON)
        attach = getattr(self.plant, "attach", None)
        if attach is not None:
            attach(self)

    def _wired(self, plant: Plant, devices: dict[int, Any], spi_devices: dict[int, Any],
               ) -> tuple[Plant, dict[int, Any], dict[int, Any]]:
        """Plant, bus and selects as this kind of board has them on its pins; this one as they come."""
        return plant, devices, spi_devices

    # --- the bench's hand -------------------------------------------------
    def uart_send(self, data: bytes, port: int = 0, at_us: int | None = None) -> None:
        """Bytes to the board's port at `at_us` (default now); call in order of time."""
        self._uart_in.append((self.now_us if at_us is None else at_us, port, data))

    def power_on(self, cause: int = CAUSE_POWER_ON) -> None:
        """Everything that does not outlive a reset is new; pins float, which reads as 0 at the plant."""
        driven = {pin: 0 for pin, level in self.pin_levels.items() if level}
        if driven:
            self.plant.outputs(driven)
        for sm, queue in self.queues.items():
            queue.clear(self.now_us)
            self.plant.motion(sm, None)
        self._start_fresh(cause)

    def reset_soon(self) -> None:
        """The chip resets at the next thing it does."""
        self._reset_soon = True

    def cut_power(self, seconds: float) -> None:
        """The supply goes away at the next thing the chip does, for so long."""
        self._outage_us = max(1, int(seconds * 1e6))

    def run_unpowered(self, to_us: int) -> None:
        """Time goes on without the board."""
        self.power_on()
        self.plant.advance(to_us)
        self.now_us = to_us
        self._boot_us = to_us

    def _start_fresh(self, cause: int) -> None:
        self.cause = cause
        self._over: BaseException | None = None
        self.pin_levels: dict[int, int] = {}
        self._inputs: dict[int, int] | None = None
        self._pins = self._known = self._hard = 0
        self._busy_us = 0
        self._adc: list[int] | None = None
        self._fed = False  # words were sent since all queues were last told to be empty
        self._watchdog_ms = 0
        self._watchdog_us: int | None = None
        self._boot_us = self.now_us

    # --- called by the stand-in modules -----------------------------------
    def exchange(self, wait_us: int, out: list[Any]) -> tuple[Any, ...]:
        """Take the outputs, let up to wait_us pass, give the inputs of that moment; last, whether the
        processor is busy then, and only an interrupt that waits for nothing is served."""
        if self._over is not None:
            raise self._over
        self.exchanges += 1
        if self._outage_us or self._reset_soon:
            raise self._struck()
        if out:
            self._apply(out)
        now = self.now_us
        if self.stall_us:
            self._busy_us, self.stall_us = now + self.stall_us, 0
        busy = self._interrupted()
        to = self.now_us if busy else self._sleep(self.now_us + wait_us)
        adc = self.plant.adc()
        if adc == self._adc:
            new_adc = None
        else:
            self._adc = list(adc)
            new_adc = self._adc
        got = self._uart_due(to) if self._uart_in else None
        since = to - self._boot_us
        ticks = (self.first_ticks_ms + since // 1000) & _MASK
        return (to - now, ticks, since % 1000, self._pins, self._known, new_adc, self._levels(to), got, busy)

    def answering(self) -> tuple[list[int], int]:
        """Addresses on the I2C bus where something answers, and the mask of the pins that select a chip."""
        there = [addr for addr, device in self.devices.items() if not getattr(device, "silent", False)]
        return there, sum(1 << pin for pin in self.spi_devices)

    def i2c_read(self, addr: int, reg: int, n: int) -> bytes | None:
        device = self.devices.get(addr)
        return None if device is None else device.read(reg, n, self.now_us)

    def i2c_write(self, addr: int, reg: int, data: bytes) -> bool:
        device = self.devices.get(addr)
        return device is not None and device.write(reg, data, self.now_us)

    def spi(self, low: int, n: int, ahead: bool = False) -> bytes:
        """n bytes from the chips whose select pin is low: those of two at once fight, low bits win.
        ahead: only to be sent along, in case the board asks; once it has, it is read again without."""
        got = None
        for pin, device in self.spi_devices.items():
            if low >> pin & 1:
                told = device.transfer(n, self.now_us, ahead)
                got = told if got is None else bytes(a & b for a, b in zip(got, told, strict=True))
        return b"\xff" * n if got is None else got

    def flash(self, op: str, path: str, data: bytes) -> bytes | None:
        if self._over is not None:
            raise self._over
        if self.flash_stall_us and op in ("write", "close", "rename", "remove"):
            self._stall(self.flash_stall_us)
        try:
            return self.flash_store.call(op, path, data)
        except PowerCut as cut:
            raise self._end(cut) from None

    # --- inside -----------------------------------------------------------
    def _sleep(self, end: int) -> int:
        """Time goes on to `end`, or until an input changes or bytes come; gives the time then."""
        while True:
            now = self.now_us
            to = self._wake_at(now, end) if end > now else now
            if to > now:
                self.plant.advance(to)
                self.now_us = to
                for settle in self._settling:
                    settle(to)
            if self._watchdog_us is not None and to >= self._watchdog_us:
                raise self._end(BoardReset(CAUSE_WATCHDOG))
            if self._sample() or to >= end or self._meddled():
                return to

    def _meddled(self) -> bool:
        """Whether the bench's hand has something for the board now."""
        heard = self._uart_in and self._uart_in[0][0] <= self.now_us
        return bool(heard or self._reset_soon or self._outage_us or self.stall_us)

    def _struck(self) -> BaseException:
        cause = CAUSE_POWER_ON if self._outage_us else CAUSE_RESET
        if self._outage_us:
            to_us, self._outage_us = self.now_us + self._outage_us, 0
            self.run_unpowered(to_us)
        self._reset_soon = False
        return self._end(BoardReset(cause))

    def _interrupted(self) -> bool:
        """Let the time go by in which the processor is kept busy, to its end or to such an interrupt."""
        while self.now_us < self._busy_us:
            edge_us = self.plant.next_edge_us() if self._hard else None
            to_us = self._busy_us if edge_us is None else min(self._busy_us, max(edge_us, self.now_us + 1))
            before = self._pins
            self._stall(to_us - self.now_us)
            if self._sample() and (self._pins ^ before) & self._hard:
                return True
        return False

    def _stall(self, us: int) -> None:
        to_us = self.now_us + us
        self.plant.advance(to_us)
        self.now_us = to_us

    def _end(self, how: BaseException) -> BaseException:
        """From here to the next power_on the board does nothing, whatever its `finally` parts try."""
        self._over = how
        return how

    def _wake_at(self, now: int, to: int) -> int:
        edge = self.plant.next_edge_us()
        if edge is not None and edge < to:
            to = edge if edge > now else min(to, now + _STALE_US)
        if self._uart_in and self._uart_in[0][0] < to:
            to = max(now, self._uart_in[0][0])
        if self._watchdog_us is not None and self._watchdog_us < to:
            to = self._watchdog_us
        return to

    def _sample(self) -> bool:
        """Take the levels of the inputs; whether one has changed."""
        inputs = self.plant.inputs()
        if inputs == self._inputs:
            return False
        self._inputs = dict(inputs)
        pins = known = 0
        for pin, level in inputs.items():
            known |= 1 << pin
            if level:
                pins |= 1 << pin
        self._pins, self._known = pins, known
        return True

    def _levels(self, now: int) -> list[int] | None:
        """Words that wait in each queue; None once all are empty and the board knows it."""
        if not self._fed:
            return None
        levels = [0] * (max(self.queues) + 1)
        for sm, queue in self.queues.items():
            levels[sm] = queue.level(now)
        self._fed = any(levels)
        return levels

    def _uart_due(self, now: int) -> list[tuple[int, bytes]] | None:
        got = []
        while self._uart_in and self._uart_in[0][0] <= now:
            _, port, data = self._uart_in.popleft()
            got.append((port, data))
        return got or None

    def _apply(self, out: list[Any]) -> None:
        changes: dict[int, int] = {}
        words: dict[int, list[int]] = {}
        for i in range(0, len(out), 3):
            op, a, b = out[i], out[i + 1], out[i + 2]
            if op == 7:
                self._watchdog(a)
            elif op == 0:
                if a in self.spi_devices:  # a select pin: nothing else hangs on it
                    self.pin_levels[a] = b
                    continue
                if a in changes:
                    self.plant.outputs(changes)
                    changes = {}
                changes[a] = b
                self.pin_levels[a] = b
            elif op == 1:
                self._queue(a).put(b, self.now_us)
                self._fed = True
                words.setdefault(a, []).append(b)
            elif op == 6:
                self.on_uart(a, b)
            elif op == 11:
                self._hard |= 1 << a
            elif op == 8:
                raise self._end(BoardReset(CAUSE_RESET))
            else:
                if a in words:
                    self.plant.motion(a, words.pop(a))
                self._machine_op(op, a, b)
        if changes:
            self.plant.outputs(changes)
        for sm, got in words.items():
            self.plant.motion(sm, got)

    def _queue(self, sm: int) -> PioQueue:
        queue = self.queues.get(sm)
        if queue is None:
            queue = self.queues[sm] = PioQueue(active=False)
        return queue

    def _machine_op(self, op: int, sm: int, value: int) -> None:
        queue = self._queue(sm)
        if op == 3:
            queue.set_active(bool(value), self.now_us)
        elif op == 4:
            queue.drop_one(self.now_us)
        else:
            if op == 2:
                queue.clear(self.now_us)
            else:
                queue.restart(self.now_us)
            self.plant.motion(sm, None)

    def _watchdog(self, timeout_ms: int) -> None:
        if timeout_ms:
            self._watchdog_ms = timeout_ms
        if self._watchdog_ms:
            self._watchdog_us = self.now_us + self._watchdog_ms * 1000
