"""A small body of bytes that survives a power cut at any byte: two slots, sequence number, CRC.

Units: bytes. Slot file: CRC-32 of all that follows, sequence (16 bits, wraps), length, body; little endian.
The newer good slot counts; the other one is written, so at every moment one of the two is whole.
Written only at rest, in the window the caller declares: erasing flash can stall the chip.
"""

import binascii
import struct

MAX_BODY = 16384
_HEAD = 8
_WRAP = 0xFFFF
_HALF = 0x8000


class Slots:
    """prefix: put before every base name, such as '/data/'; opener: open(path, mode), for the bench.

    writes: slot files written since start, the measure of wear.
    """

    def __init__(self, prefix="", opener=open):
        self.prefix = prefix
        self.open = opener
        self.writes = 0

    def load(self, base):
        """The body saved last and whole, or None if there is none."""
        return self._newest(base)[1]

    def save(self, base, body):
        """True once the body can be read back. False leaves what was there before in force."""
        sequence, old, where = self._newest(base)
        if old == body and old is not None:
            return True
        if len(body) > MAX_BODY:
            return False
        sequence = (sequence + 1) & _WRAP
        tail = struct.pack("<HH", sequence, len(body)) + body
        path = self.prefix + base + (".a" if where == ".b" else ".b")
        try:
            with self.open(path, "wb") as f:
                f.write(struct.pack("<I", binascii.crc32(tail) & 0xFFFFFFFF) + tail)
        except OSError:
            return False
        self.writes += 1
        return self._read(path) == (sequence, body)

    def _newest(self, base):
        """(sequence, body, slot ending), or (0, None, '.b')."""
        a = self._read(self.prefix + base + ".a")
        b = self._read(self.prefix + base + ".b")
        if a is None and b is None:
            return 0, None, ".b"
        if b is None or (a is not None and 0 < (a[0] - b[0]) & _WRAP < _HALF):
            return a[0], a[1], ".a"
        return b[0], b[1], ".b"

    def _read(self, path):
        """(sequence, body) of one slot, or None where it is missing, cut short or wrong."""
        try:
            with self.open(path, "rb") as f:
                head = f.read(_HEAD)
                if len(head) < _HEAD:
                    return None
                told, sequence, length = struct.unpack("<IHH", head)
                body = f.read(length + 1) if length <= MAX_BODY else b""
        except OSError:
            return None
        if len(body) != length or binascii.crc32(body, binascii.crc32(head[4:])) & 0xFFFFFFFF != told:
            return None
        return sequence, body
