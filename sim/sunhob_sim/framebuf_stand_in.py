"""`framebuf` for the firmware on CPython: what of it the display's driver uses, with the same letters.

No units. The letters, space to 0x7F in eight columns each, are those of MicroPython's own framebuf (its 8 x 8
font, MIT licence, copyright 2013, 2014 Damien P. George), read out of its WebAssembly build; a test compares.
"""

from __future__ import annotations

MONO_VLSB = 0
FIRST = 32
FONT = bytes.fromhex(
    "00000000000000000000004f4f0000000007070000070700147f7f14147f7f1400242e6b6b3a1200006333180c666300"
    "00327f4d4d777250000000040603010000001c3e63410000000041633e1c0000082a3e1c1c3e2a080008083e3e080800"
    "000080e0600000000008080808080800000000606000000000406030180c0602003e7f49457f3e000040447f7f404000"
    "00627351494f460000226349497f360000181814167f7f1000276745457d3900003e7f49497b3200000303797d070300"
    "00367f49497f360000266f49497f3e000000002424000000000080e46400000000081c36634141000014141414141400"
    "00414163361c080000020351590f0600003e7f414d4f2e00007c7e0b0b7e7c00007f7f49497f3600003e7f4141632200"
    "007f7f41633e1c00007f7f4949414100007f7f0909010100003e7f41497b3a00007f7f08087f7f000000417f7f410000"
    "002060417f3f0100007f7f1c36634100007f7f4040404000007f7f060c067f7f007f7f0e1c7f7f00003e7f41417f3e00"
    "007f7f09090f0600001e3f21617f5e00007f7f19396f460000266f49497b32000001017f7f010100003f7f40407f3f00"
    "001f3f60603f1f00007f7f3018307f7f0063771c1c77630000070f78780f0700006171594d47430000007f7f41410000"
    "0002060c18306040000041417f7f000000080c06060c0800c0c0c0c0c0c0c0c0000001030604000000207454547c7800"
    "007f7f44447c380000387c44446c280000387c44447f7f0000387c54545c580000087e7f090302000098bca4a4fc7c00"
    "007f7f04047c78000000007d7d0000000040c08080fd7d00007f7f30386c44000000417f7f400000007c7c1830187c7c"
    "007c7c04047c780000387c44447c380000fcfc24243c180000183c2424fcfc00007c7c04040c080000485c5454742000"
    "04043f7f44642000003c7c40407c3c00001c3c60603c1c00001c7c3018307c1c00446c38386c4400009cbca0a0fc7c00"
    "004464745c4c44000008083e77414100000000ffff000000004141773e0808000002030103020301aa55aa55aa55aa55"
)


class FrameBuffer:
    """Dots in a bytearray: a byte for eight dots of a column, the top one lowest."""

    def __init__(self, buffer: bytearray, width: int, height: int, fmt: int) -> None:
        if fmt != MONO_VLSB:
            raise ValueError("only MONO_VLSB is stood in for")
        self.buffer, self.width, self.height = buffer, width, height

    def fill(self, dot: int) -> None:
        """All dots on or off."""
        self.buffer[:] = bytes([255 if dot else 0]) * len(self.buffer)

    def text(self, text: str, x: int, y: int, dot: int = 1) -> None:
        """Letters from (x, y) on, eight columns each; what lies outside is cut off."""
        for letter in text:
            k = ord(letter) - FIRST
            k = k if 0 <= k < len(FONT) // 8 else len(FONT) // 8 - 1
            for column in FONT[8 * k : 8 * k + 8]:
                self._column(x, y, column, dot)
                x += 1

    def _column(self, x: int, y: int, column: int, dot: int) -> None:
        for k in range(8):
            at = y + k
            if column >> k & 1 and 0 <= x < self.width and 0 <= at < self.height:
                bit = 1 << (at & 7)
                i = (at >> 3) * self.width + x
                self.buffer[i] = self.buffer[i] | bit if dot else self.buffer[i] & ~bit
