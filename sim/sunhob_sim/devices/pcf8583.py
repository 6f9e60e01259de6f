"""PCF8583 as a counter of pulses, at register level. Units: pulses, us of bench time.

From the data sheet (NXP PCF8583 rev. 6, sections 7.2, 7.4, 7.8): register 0 control (bits 5 and 4 function
mode, 10 counts events; bit 7 stops the count), 1 to 3 the count, six digits in BCD, lowest first. The clock
functions of the chip are not modelled: in those modes nothing is counted.
"""

from collections.abc import Callable

ADDRESS = 0x50
_MODE, _EVENTS, _STOP = 0x30, 0x20, 0x80
_TURN = 1_000_000


class PCF8583:
    """pulses: how many in all have come by a moment [us]. stands: no more of them come."""

    def __init__(self, pulses: Callable[[int], float]) -> None:
        self.pulses = pulses
        self.silent = False
        self.stands = False
        self._at = bytearray(256)
        self._seen = 0

    def read(self, reg: int, n: int, now_us: int) -> bytes | None:
        """n bytes from `reg` on; None: no answer."""
        if self.silent:
            return None
        self._follow(now_us)
        return bytes(self._at[(reg + i) & 0xFF] for i in range(n))

    def write(self, reg: int, data: bytes, now_us: int) -> bool:
        """Registers as written; the count goes on from what its registers then hold."""
        if self.silent:
            return False
        self._follow(now_us)
        for i, value in enumerate(data):
            self._at[(reg + i) & 0xFF] = value
        return True

    def _follow(self, now_us: int) -> None:
        total = int(self.pulses(now_us))
        new, self._seen = total - self._seen, total
        if self._at[0] & _MODE != _EVENTS or self._at[0] & _STOP or self.stands:
            return
        count = sum(((code >> 4) * 10 + (code & 15)) * 100**i for i, code in enumerate(self._at[1:4]))
        count = (count + new) % _TURN
        for i in range(3):
            two = count // 100**i % 100
            self._at[1 + i] = two // 10 << 4 | two % 10
