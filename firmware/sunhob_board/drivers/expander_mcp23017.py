"""Slow keys and lamps on an MCP23017 port expander over I2C, where the chip has too few pins.

No units: levels as bits, port A in 0 to 7, port B in 8 to 15. Registers as in the data sheet (Microchip
DS20001952, IOCON.BANK = 0). Port A is read, with the chip's pull-ups on; port B drives. INTA goes low as
soon as a line of port A changes, until it is read.
"""

ADDRESS = 0x20
_IODIR, _GPINTEN, _IOCON, _GPPU, _GPIO, _OLAT = 0x00, 0x04, 0x0A, 0x0C, 0x12, 0x14
_OPEN = 0x00FF  # a silent chip: no key pressed, nothing lit


class Expander:
    """levels: of all lines as last read."""

    def __init__(self, i2c):
        self.levels = _OPEN
        self._i2c = i2c
        self._wanted = 0
        self._two = bytearray(2)
        self._set_up = False

    def _write(self, register, a, b):
        self._two[0], self._two[1] = a, b
        self._i2c.writeto_mem(ADDRESS, register, self._two)

    def read(self):
        """Read all lines in one transfer; sets the chip up where it is new or has lost its registers.
        False: it is silent."""
        try:
            if not self._set_up:
                self._write(_OLAT, 0, self._wanted >> 8)
                for register in (_IODIR, _GPPU, _GPINTEN):
                    self._write(register, 0xFF, 0)
                self._write(_IOCON, 0, 0)
                self._set_up = True
            raw = self._i2c.readfrom_mem(ADDRESS, _GPIO, 2)
        except OSError:
            self.levels = _OPEN
            self._set_up = False
            return False
        self.levels = raw[0] | raw[1] << 8
        if self.levels & 0xFF00 != self._wanted:
            self._set_up = False  # it was without power, or something holds a lamp
        return True

    def drive(self, bit, level):
        """Set one line of port B; a chip that does not answer shows in read()."""
        mask = 1 << bit
        wanted = self._wanted | mask if level else self._wanted & ~mask
        if wanted == self._wanted:
            return
        self._wanted = wanted
        try:
            self._write(_OLAT, 0, wanted >> 8)
        except OSError:
            self._set_up = False


class Line:
    """One line of an expander, used like a pin."""

    def __init__(self, expander, bit):
        self._expander = expander
        self._bit = bit

    def value(self, level=None):
        if level is None:
            return self._expander.levels >> self._bit & 1
        self._expander.drive(self._bit, level)
