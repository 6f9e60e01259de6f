"""Display of 128 x 64 dots with an SSD1306 controller on the bus: one row of sixteen letters at a time.

No units. Commands as in the data sheet (Solomon Systech SSD1306 rev 1.1, sections 9 and 10; charge pump: its
application note): a byte of control before each transfer tells commands (0x00) from dots (0x40). A page of
its memory is 8 dots high, a byte a column with the top dot lowest: what `framebuf` calls MONO_VLSB.
"""

import framebuf

ADDRESS = 0x3C
COLUMNS, ROWS = 16, 8
_COMMAND, _DATA = 0x00, 0x40
_START = bytes((
    0xAE,  # off while it is set up
    0xD5, 0x80, 0xA8, 0x3F, 0xD3, 0x00, 0x40,  # clock, 64 lines, no shift, first line 0
    0x8D, 0x14,  # charge pump on
    0x20, 0x02,  # addressed page by page
    0xA1, 0xC8, 0xDA, 0x12,  # upright where the ribbon is below; lines alternate
    0x81, 0x9F, 0xD9, 0xF1, 0xDB, 0x40,  # contrast, precharge, deselect level
    0xA4, 0xA6,  # shows its memory, lit dots on dark
))


class Oled:
    """ready: it answered and is set up; what it showed before is then to be written anew."""

    def __init__(self, i2c):
        self.i2c = i2c
        self.ready = False
        self._dots = bytearray(8 * COLUMNS)
        self._frame = framebuf.FrameBuffer(self._dots, 8 * COLUMNS, 8, framebuf.MONO_VLSB)

    def start(self):
        """Set it up, dark; False where it does not answer."""
        self.ready = self._command(_START)
        return self.ready

    def light(self):
        """Switch it on: once every row has been written."""
        return self._command(b"\xaf")

    def write(self, row, text):
        """Write one row 0..7, 128 bytes on the bus: about 3.5 ms at 400 kHz. False where it is silent."""
        self._frame.fill(0)
        self._frame.text(text, 0, 0)
        if self._command(bytes((0xB0 | row, 0x00, 0x10))):
            try:
                self.i2c.writeto_mem(ADDRESS, _DATA, self._dots)
            except OSError:
                self.ready = False
        return self.ready

    def _command(self, data):
        try:
            self.i2c.writeto_mem(ADDRESS, _COMMAND, data)
        except OSError:
            self.ready = False
            return False
        return True
