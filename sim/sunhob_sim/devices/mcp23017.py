"""MCP23017 port expander at register level. Units: levels as bits of a byte, us of bench time.

Registers and what they do from the data sheet (Microchip DS20001952), with IOCON.BANK = 0: those of ports A
and B follow each other, and an address goes on to the next. Interrupt on change against the value before only
(INTCON is kept, not used); INTA is driven, active low (IOCON.ODR = INTPOL = 0), and MIRROR is not modelled.
"""

from collections.abc import Callable

ADDRESS = 0x20
_SIZE = 0x16
_IODIR, _IPOL, _GPINTEN, _GPPU, _INTF, _INTCAP, _GPIO, _OLAT = 0x00, 0x02, 0x04, 0x0C, 0x0E, 0x10, 0x12, 0x14
_READ_ONLY = (*range(_INTF, _INTF + 2), *range(_INTCAP, _INTCAP + 2))


class MCP23017:
    """lines: gives the levels that are driven from outside, by line (0..7 A, 8..15 B); the others float to
    their pull-up, or low. driven: told the levels of the lines that the chip drives, once they change."""

    def __init__(self, lines: Callable[[], dict[int, int]], driven: Callable[[dict[int, int]], None]) -> None:
        self.lines = lines
        self.driven = driven
        self.silent = False
        self.regs = bytearray(_SIZE)
        self._told: dict[int, int] = {}
        self._seen = [0, 0]
        self.reset()

    def reset(self) -> None:
        """Power on, or the reset line: all lines are inputs."""
        self.regs = bytearray(_SIZE)
        self.regs[_IODIR] = self.regs[_IODIR + 1] = 0xFF
        self._seen = [self._port(0), self._port(1)]
        self._tell()

    def read(self, reg: int, n: int, _now_us: int) -> bytes | None:
        """n bytes from a register on; None: no answer."""
        if self.silent:
            return None
        self.look()
        return bytes(self._read((reg + i) % _SIZE) for i in range(n))

    def write(self, reg: int, data: bytes, _now_us: int) -> bool:
        if self.silent:
            return False
        for i, byte in enumerate(data):
            at = (reg + i) % _SIZE
            if at in (_GPIO, _GPIO + 1):
                at += _OLAT - _GPIO
            if at in (0x0A, 0x0B):
                self.regs[0x0A] = self.regs[0x0B] = byte  # one register at two addresses
            elif at not in _READ_ONLY:
                self.regs[at] = byte
        self._tell()
        self.look()
        return True

    def look(self) -> None:
        """Compare the lines with what they were; a change of one that is to tell sets its flag."""
        for port in (0, 1):
            now = self._port(port)
            changed = (now ^ self._seen[port]) & self.regs[_GPINTEN + port]
            self._seen[port] = now
            if changed and not self.regs[_INTF + port]:
                self.regs[_INTF + port] = changed
                self.regs[_INTCAP + port] = now

    def inta(self) -> int:
        """Level of INTA now."""
        self.look()
        return 0 if self.regs[_INTF] else 1

    def _read(self, reg: int) -> int:
        if reg in (_GPIO, _GPIO + 1):
            port = reg - _GPIO
            self.regs[_INTF + port] = 0
            return self._port(port) ^ (self.regs[_IPOL + port] & self.regs[_IODIR + port])
        if reg in (_INTCAP, _INTCAP + 1):
            self.regs[_INTF + reg - _INTCAP] = 0
        return self.regs[reg]

    def _port(self, port: int) -> int:
        """Levels at the pins of a port."""
        inward, pulled, latch = (self.regs[r + port] for r in (_IODIR, _GPPU, _OLAT))
        levels = (latch & ~inward | pulled & inward) & 0xFF
        for line, level in self.lines().items():
            if line // 8 == port:
                bit = 1 << line % 8
                levels = levels | bit if level else levels & ~bit
        return levels

    def _tell(self) -> None:
        now = {port * 8 + bit: self.regs[_OLAT + port] >> bit & 1 & ~(self.regs[_IODIR + port] >> bit)
               for port in (0, 1) for bit in range(8)}
        changed = {line: level for line, level in now.items() if self._told.get(line, 0) != level}
        self._told = now
        if changed:
            self.driven(changed)
