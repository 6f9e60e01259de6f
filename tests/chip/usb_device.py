"""A serial device that a program drives into the emulated chip's USB controller, register by register.

Stands where MicroPython's USB stack stands, so that port and host library can be tried with no image. Units:
bytes, ns. Registers and buffer control: RP2040 data sheet, 4.1.2 and 4.1.4; descriptors: USB 2.0, 9.6, and
the class definitions for communication devices 1.2 (bulk pair in a data interface).
"""

from collections import deque
from collections.abc import Callable

from .emulator import Chip

_DPRAM, _REGS = 0x5010_0000, 0x5011_0000
_MAIN_CTRL, _SIE_STATUS, _BUFF_STATUS = 0x40, 0x50, 0x58
_BUS_RESET, _SETUP_REC = 1 << 19, 1 << 17
_AVAILABLE, _FULL = 1 << 10, 1 << 15
_ENABLE_INTERRUPT_BULK = 1 << 31 | 1 << 29 | 2 << 26
_BULK, _PACKET = 2, 64
_EP0_BUFFER, _IN_BUFFER, _OUT_BUFFER = 0x100, 0x180, 0x1C0
_EVERY_NS = 200_000
_GET_DESCRIPTOR, _CONFIGURATION = 6, 2
_DATA_INTERFACE = (
    bytes((9, 4, 0, 0, 0, 2, 2, 0, 0))  # communications, no endpoint of its own
    + bytes((9, 4, 1, 0, 2, 10, 0, 0, 0))  # data
    + bytes((7, 5, 0x80 | _BULK, 2, _PACKET, 0, 0)) + bytes((7, 5, _BULK, 2, _PACKET, 0, 0)))
_DESCRIPTOR = bytes((9, 2, 9 + len(_DATA_INTERFACE), 0, 2, 1, 0, 0x80, 50)) + _DATA_INTERFACE
# wait for an interrupt, for ever (ARMv6-M architecture reference manual: WFI 0xBF30, B .-2 0xE7FD)
IDLE_PROGRAM = bytes.fromhex("30bf fde7")


class UsbDevice:
    """heard(bytes): what the host sends; say(bytes): what it is to hear; start(): onto the bus."""

    def __init__(self, chip: Chip, heard: Callable[[bytes], None]) -> None:
        self.chip, self.heard = chip, heard
        self._alarm = chip.clock.create_alarm(self._poll)
        self._out: deque[bytes] = deque()
        self._reset()
        chip.on_restart.append(self._reset)

    def _reset(self) -> None:
        self._alarm.cancel()
        self._out.clear()
        self._answer: deque[bytes] = deque()
        self._busy = self._up = False

    def start(self) -> None:
        """Switch the controller on."""
        self._write(_REGS + _MAIN_CTRL, 1)
        self._alarm.schedule(_EVERY_NS)

    def say(self, data: bytes) -> None:
        """Bytes for the host, in packets."""
        self._out.extend(data[at:at + _PACKET] for at in range(0, len(data), _PACKET))

    def _write(self, address: int, value: int) -> None:
        self.chip.mcu.write_uint32(address, value)

    def _read(self, address: int) -> int:
        return self.chip.mcu.read_uint32(address)

    def _poll(self) -> None:
        status = self._read(_REGS + _SIE_STATUS)
        if status & _BUS_RESET:
            self._write(_REGS + _SIE_STATUS, _BUS_RESET)
        if status & _SETUP_REC:
            self._write(_REGS + _SIE_STATUS, _SETUP_REC)
            self._setup(bytes(self.chip.mcu.usb_dpram[:8]))
        self._buffers()
        if self._up and self._out and not self._busy:
            self._busy = True
            self._send(_BULK, _IN_BUFFER, self._out.popleft())
        self._alarm.schedule(_EVERY_NS)

    def _setup(self, packet: bytes) -> None:
        answer = b""
        if packet[1] == _GET_DESCRIPTOR and packet[3] == _CONFIGURATION:
            answer = _DESCRIPTOR[:int.from_bytes(packet[6:8], "little")]
        elif packet[0] == 0 and packet[1] == 9:  # set configuration: the pair of endpoints comes up
            self._write(_DPRAM + 8 * _BULK, _ENABLE_INTERRUPT_BULK | _IN_BUFFER)
            self._write(_DPRAM + 8 * _BULK + 4, _ENABLE_INTERRUPT_BULK | _OUT_BUFFER)
            self._up = True
            self._arm()
        self._answer = deque(answer[at:at + _PACKET] for at in range(0, len(answer), _PACKET))
        self._send(0, _EP0_BUFFER, self._answer.popleft() if self._answer else b"")

    def _buffers(self) -> None:
        done = self._read(_REGS + _BUFF_STATUS)
        if not done:
            return
        self._write(_REGS + _BUFF_STATUS, done)
        if done & 1 and self._answer:
            self._send(0, _EP0_BUFFER, self._answer.popleft())
        if done >> 2 * _BULK & 1:
            self._busy = False
        if done >> 2 * _BULK + 1 & 1:
            size = self._read(_DPRAM + 0x84 + 8 * _BULK) & 0x3FF
            data = bytes(self.chip.mcu.usb_dpram[_OUT_BUFFER:_OUT_BUFFER + size])
            self._arm()
            self.heard(data)

    def _arm(self) -> None:
        self._write(_DPRAM + 0x84 + 8 * _BULK, _AVAILABLE | _PACKET)

    def _send(self, endpoint: int, buffer: int, data: bytes) -> None:
        self.chip.mcu.usb_dpram[buffer:buffer + len(data)] = data
        self._write(_DPRAM + 0x80 + 8 * endpoint, _AVAILABLE | _FULL | len(data))
