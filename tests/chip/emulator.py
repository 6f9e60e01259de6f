"""An RP2040 of rp2040py that is run by hand: so much emulated time, then stop. Units: s and us of emulated
time, GPIO numbers, levels 0 or 1.

Three things that the stock emulator (0.3.6) does otherwise than the chip are put right here, from outside
and never in the firmware (RP2040 data sheet, RP-008371):
- a pin that is driven reads as it is driven: the pad's input buffer sees the pad (2.19.4, "Pads"). Stock: 0.
- the transmit interrupt of the UART comes with a byte that has gone and is over when it is cleared (PL011
  technical reference manual, 2.8). Stock: it stands for ever, and the interrupt never ends.
- a USB host with nothing to send answers nothing to an endpoint that waits. Stock: an empty packet each time,
  and an interrupt with it, which makes all times about three times as long.
No second core, and no waiting for the flash: times are somewhat better than those of a chip.
"""

from collections import deque
from collections.abc import Callable
from functools import partial

from rp2040py.device.bootrom import BOOTROM_B1
from rp2040py.execute_batch import execute_batch
from rp2040py.gpio_pin import GPIOPinState
from rp2040py.memory_map import FLASH_START_ADDRESS
from rp2040py.peripherals.uart import UARTTXINTR
from rp2040py.rp2040 import RP2040
from rp2040py.simulator import Simulator
from rp2040py.usb.cdc import USBCDC
from rp2040py.utils.logging import ConsoleLogger, LogLevel

from .uf2 import Part

_TICKS = 8  # instructions between two looks at the clock, where no alarm is nearer
_DRIVEN = (GPIOPinState.HIGH, GPIOPinState.LOW)

Output = Callable[[int, int], None]


class Chip:
    """mcu: rp2040py's chip. on_output: told (pin, level) of each pin that the chip drives; on_restart: told
    after each reset; on_serial: told the bytes that come over USB; there: whether USB is up."""

    def __init__(self, parts: list[Part]) -> None:
        self.mcu = RP2040()
        self.mcu.logger = ConsoleLogger(LogLevel.ERROR)
        self.sim = Simulator(rp2040=self.mcu)
        self.clock = self.mcu.clock
        self.mcu.load_bootrom(BOOTROM_B1)
        for part in parts:
            self.mcu.flash[part.offset:part.offset + len(part.data)] = part.data
        self.on_output: list[Output] = []
        self.on_restart: list[Callable[[], None]] = []
        self.on_serial: Callable[[bytes], None] = lambda data: None
        self.there = False
        self.restarts = 0
        self._outside: dict[int, int] = {}
        self._halt = self.clock.create_alarm(self.halt)
        self._pads()
        self._uarts()
        self._usb()
        self.mcu.watchdog.on_watchdog_trigger = self._bitten
        self.mcu.core.pc = FLASH_START_ADDRESS

    # --- time ------------------------------------------------------------------------------------
    @property
    def seconds(self) -> float:
        """Emulated time since power-on [s]."""
        return self.clock.nanos / 1e9

    @property
    def us(self) -> int:
        """The same in whole us."""
        return int(self.clock.nanos / 1e3)

    def run(self, seconds: float) -> None:
        """Let the chip run so long, or until somebody calls halt()."""
        self._halt.schedule(max(1.0, seconds * 1e9))
        self.sim.stopped = False
        while not self.sim.stopped:
            execute_batch(self.sim, _TICKS)
        self._halt.cancel()

    def halt(self) -> None:
        """End the run() that is on, as soon as can be."""
        self.sim.stopped = True

    # --- pins --------------------------------------------------------------------------------------
    def drive(self, pin: int, level: int) -> None:
        """Something outside holds the pin at a level from now on."""
        if self._outside.get(pin) == level:
            return
        self._outside[pin] = level
        if self.mcu.gpio[pin].value not in _DRIVEN:
            self.mcu.gpio[pin].set_input_value(bool(level))

    def level(self, pin: int) -> int:
        """Level that the chip drives a pin to; an undriven pin is 0."""
        return int(self.mcu.gpio[pin].value == GPIOPinState.HIGH)

    def _pads(self) -> None:
        for pin in self.mcu.gpio:
            pin.add_listener(partial(self._pad, pin))

    def _pad(self, pin, now, _before) -> None:
        if now in _DRIVEN:
            pin.set_input_value(now == GPIOPinState.HIGH)
            for told in self.on_output:
                told(pin.index, int(now == GPIOPinState.HIGH))
        else:
            self._let_go(pin)

    def _let_go(self, pin) -> None:
        if pin.index in self._outside:
            pin.set_input_value(bool(self._outside[pin.index]))
        else:
            pin.release_input()

    # --- UART ------------------------------------------------------------------------------------------
    def _uarts(self) -> None:
        for uart in self.mcu.uart:
            uart.check_interrupts = partial(self._uart_interrupt, uart)
            uart.on_byte = partial(self._uart_sent, uart)

    def _uart_interrupt(self, uart) -> None:
        self.mcu.set_interrupt(uart.irq, bool(uart._interrupt_status & uart._interrupt_mask))

    def _uart_sent(self, uart, _byte: int) -> None:
        uart._interrupt_status |= UARTTXINTR
        self._uart_interrupt(uart)

    # --- USB ---------------------------------------------------------------------------------------------
    def send(self, data: bytes) -> None:
        """Bytes to the chip's USB serial; they go as it takes them."""
        self._going += data
        self._feed()

    def _usb(self) -> None:
        self._going = bytearray()
        self._waits: deque[int] = deque()  # sizes of the buffers that the chip holds ready
        self.cdc = USBCDC(self.mcu.usb_ctrl)
        self.cdc.on_serial_data = self._heard
        self.cdc.on_device_connected = self._connected
        usb = self.mcu.usb_ctrl
        usb.on_endpoint_read = partial(self._ready, usb.on_endpoint_read)
        usb.on_reset = partial(self._gone, usb.on_reset)

    def _heard(self, data: bytes) -> None:
        self.on_serial(bytes(data))

    def _connected(self) -> None:
        self.there = True
        self.halt()

    def _ready(self, stock: Callable[[int, int], None], endpoint: int, size: int) -> None:
        if endpoint != self.cdc._out_endpoint:
            stock(endpoint, size)
            return
        self._waits.append(size)
        self._feed()

    def _feed(self) -> None:
        while self._waits and self._going:
            size = self._waits.popleft()
            part = bytes(self._going[:size])
            del self._going[:size]
            self.mcu.usb_ctrl.endpoint_read_done(self.cdc._out_endpoint, part)

    # --- reset ---------------------------------------------------------------------------------------------
    def _bitten(self) -> None:
        self.mcu.enter_reset(from_watchdog=True)
        self.mcu.leave_reset()

    def _gone(self, stock: Callable[[], None] | None) -> None:
        if stock is not None:
            stock()
        self.there = False
        self.restarts += 1
        self._going.clear()
        self._waits.clear()
        for pin in self.mcu.gpio:
            self._let_go(pin)
        for told in self.on_restart:
            told()
        self.halt()
