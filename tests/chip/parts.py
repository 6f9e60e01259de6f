"""What hangs on the emulated chip's buses, and its step pulses. Units: us of emulated time, bytes.

Chips on the buses are the bench's models (sunhob_sim.devices); here are only the wires to them.
"""

from collections.abc import Callable
from typing import Any

from rp2040py.gpio_pin import GPIOPinState
from rp2040py.peripherals.i2c import I2CMode
from rp2040py.peripherals.peripheral import BasePeripheral
from sunhob_sim.pio_queue import DEPTH, PioQueue

from .emulator import Chip

_I2C_BYTE_NS = 22_500  # nine bits at 400 kHz
_SPI_BYTE_NS = 8_000  # eight bits at 1 MHz
PIO0 = 0x50200

# PIO registers and bits (RP2040 data sheet, 3.7 "List of Registers")
_CTRL, _FSTAT, _FLEVEL, _TXF0 = 0x00, 0x04, 0x0C, 0x10
_SM0, _SM_STRIDE = 0xC8, 0x18
_SHIFTCTRL, _INSTR = 0x08, 0x10  # from the begin of a machine's registers
_JOIN = 0xC0000000  # FJOIN_TX, FJOIN_RX: the SDK's pio_sm_clear_fifos() turns the second over, twice
_RX_EMPTY = 0xF00
_PULL_NOBLOCK = 0x8080
_MACHINES = 4


class I2cBus:
    """devices: by address, each with read(register, count, us) and write(register, bytes, us)."""

    def __init__(self, chip: Chip, devices: dict[int, Any], block: int = 0) -> None:
        self.chip, self.devices = chip, devices
        self._i2c = i2c = chip.mcu.i2c[block]
        self._alarm = chip.clock.create_alarm(self._due)
        self._then: Callable[[], None] | None = None
        self._device: Any = None
        self._written = bytearray()
        self._reg = self._next = 0
        i2c.on_start, i2c.on_connect, i2c.on_stop = self._start, self._connect, self._stop
        i2c.on_write_byte, i2c.on_read_byte = self._write, self._read
        chip.on_restart.append(self._restart)

    def _later(self, then: Callable[[], None]) -> None:
        self._then = then
        self._alarm.schedule(_I2C_BYTE_NS)

    def _due(self) -> None:
        then, self._then = self._then, None
        if then is not None:
            then()

    def _restart(self) -> None:
        self._alarm.cancel()
        self._then = self._device = None
        self._written.clear()

    def _settle(self) -> None:
        """What was written takes effect: the register, and the bytes that go into it."""
        if self._device is not None and self._written:
            self._reg = self._written[0]
            if len(self._written) > 1:
                self._device.write(self._reg, bytes(self._written[1:]), self.chip.us)
        self._written.clear()

    def _start(self, _again: bool) -> None:
        self._settle()
        self._i2c.complete_start()

    def _connect(self, address: int, mode: I2CMode) -> None:
        self._device = self.devices.get(address)
        self._next = 0
        there = self._device is not None and not getattr(self._device, "silent", False)
        if there and mode == I2CMode.READ:
            there = self._device.read(self._reg, 1, self.chip.us) is not None
        self._later(lambda: self._i2c.complete_connect(there))

    def _write(self, value: int) -> None:
        self._written.append(value)
        self._later(lambda: self._i2c.complete_write(True))

    def _read(self, _more: bool) -> None:
        got = self._device.read(self._reg, self._next + 1, self.chip.us)
        value = got[self._next] if got is not None else 0xFF
        self._next += 1
        self._later(lambda: self._i2c.complete_read(value))

    def _stop(self) -> None:
        self._settle()
        self._i2c.complete_stop()


class SpiBus:
    """devices: by the pin that selects them (low), each with transfer(count, us)."""

    def __init__(self, chip: Chip, devices: dict[int, Any], block: int = 1) -> None:
        self.chip, self.devices = chip, devices
        self._spi = chip.mcu.spi[block]
        self._alarm = chip.clock.create_alarm(self._done)
        self._frames: dict[int, bytes] = {}
        self._at = 0
        self._got = 0xFF
        self._spi.on_transmit = self._transmit
        chip.on_output.append(self._select)
        chip.on_restart.append(self._alarm.cancel)

    def _select(self, pin: int, level: int) -> None:
        if pin in self.devices:
            self._frames.pop(pin, None)
            self._at = 0
            if not level:
                self._frames[pin] = self.devices[pin].transfer(4, self.chip.us)

    def _transmit(self, _value: int) -> None:
        self._got = 0xFF
        for pin, frame in self._frames.items():
            if self.chip.mcu.gpio[pin].value == GPIOPinState.LOW and self._at < len(frame):
                self._got &= frame[self._at]
        self._at += 1
        self._alarm.schedule(_SPI_BYTE_NS)

    def _done(self) -> None:
        self._spi.complete_transmit(self._got)


class StepMachines(BasePeripheral):
    """Stands for PIO 0 with the step program in it: the emulator's own stands still while the chip sleeps.

    The program itself is run instruction by instruction in tests/test_stepper_pio.py, against the very queue
    that is used here. queues: state machine -> PioQueue, made as they are needed.
    """

    def __init__(self, chip: Chip, queues: dict[int, PioQueue]) -> None:
        super().__init__(chip.mcu, "PIO0 STEPS")
        self.chip, self.queues = chip, queues
        self._kept: dict[int, int] = {}
        self._on = 0
        chip.mcu.peripherals[PIO0] = self
        chip.on_restart.append(self._restart)

    def _queue(self, machine: int) -> PioQueue:
        if machine not in self.queues:
            self.queues[machine] = PioQueue(active=False)
        return self.queues[machine]

    def _restart(self) -> None:
        self._kept.clear()
        self._on = 0
        for queue in self.queues.values():
            queue.clear(self.chip.us)
            queue.set_active(False, self.chip.us)

    def read_uint32(self, offset: int) -> int:
        now = self.chip.us
        if offset == _CTRL:
            return self._on
        if offset == _FLEVEL:
            return sum(queue.level(now) << 8 * machine for machine, queue in self.queues.items())
        if offset == _FSTAT:
            levels = [self.queues[n].level(now) if n in self.queues else 0 for n in range(_MACHINES)]
            full = sum(1 << 16 + n for n in range(_MACHINES) if levels[n] >= DEPTH)
            return _RX_EMPTY | full | sum(1 << 24 + n for n in range(_MACHINES) if not levels[n])
        return self._kept.get(offset, 0)

    def write_uint32(self, offset: int, value: int) -> None:
        now = self.chip.us
        machine, register = divmod(offset - _SM0, _SM_STRIDE) if offset >= _SM0 else (-1, -1)
        if offset == _CTRL:
            self._control(value)
        elif _TXF0 <= offset < _TXF0 + 4 * _MACHINES:
            self._queue((offset - _TXF0) // 4).put(value, now)
        elif register == _INSTR and machine < _MACHINES:
            self._told(machine, value)
        else:
            if register == _SHIFTCTRL and (value ^ self._kept.get(offset, 0)) & _JOIN:
                self._queue(machine).clear(now)  # a change of the joining empties both (3.7, SHIFTCTRL)
            self._kept[offset] = value

    def _control(self, value: int) -> None:
        now = self.chip.us
        for machine in range(_MACHINES):
            if (value ^ self._on) >> machine & 1:
                self._queue(machine).set_active(bool(value >> machine & 1), now)
            if value >> 4 + machine & 1:
                self._queue(machine).restart(now)
        self._on = value & 0xF

    def _told(self, machine: int, word: int) -> None:
        """An instruction from the chip itself: throw a word away, or jump to the program's begin."""
        if word & 0xE0FF == _PULL_NOBLOCK:
            self._queue(machine).drop_one(self.chip.us)
        elif word >> 13 == 0:
            self._queue(machine).restart(self.chip.us)
