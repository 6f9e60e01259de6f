"""Patterns in memory, known answers of the processor, room left on heap and stack. Units: bytes.

Blocks are lent by the heap, a new one each time, so that the walk moves over the memory that is free. It
finds cells and address lines that are stuck there. What is in use, the interpreter's own memory and faults
that come and go it cannot find: no program above an interpreter can test the memory it stands on.
"""

import binascii
import gc
import math

BLOCK = 64
_FIVES, _TENS, _ROW = b"\x55" * BLOCK, b"\xaa" * BLOCK, bytes(range(BLOCK))
_KEPT = 16
_DEPTH = 12
LEAST_FREE = 16_384
PATTERN, ADDRESS, ANSWERS = 1, 2, 3
HEAP, STACK = 1, 2


class Memory:
    """bad: 0, PATTERN, ADDRESS or ANSWERS. low: 0, HEAP or STACK."""

    def __init__(self, lend=bytearray):
        self.lend = lend  # the bench lends faulty blocks
        self.bad = self.low = 0
        self._kept = []

    def step(self):
        """One block, and the known answers."""
        if len(self._kept) >= _KEPT:
            self._kept.clear()
        block = self.lend(BLOCK)
        self._kept.append(block)
        if not (_holds(block, _FIVES) and _holds(block, _TENS)):
            self.bad = PATTERN
        elif not _holds(block, _ROW):  # two cells that answer to one address hold the later number
            self.bad = ADDRESS
        elif not _answers():
            self.bad = ANSWERS

    def room(self):
        """Room on heap and stack; right after a collection, or the heap looks fuller than it is."""
        free = getattr(gc, "mem_free", None)  # CPython tells none
        self.low = 0
        if free is not None and free() < LEAST_FREE:
            self.low = HEAP
        try:
            _deeper(_DEPTH)
        except RuntimeError:
            self.low = STACK


def _holds(block, pattern):
    """Whether all cells hold what is written to them."""
    block[:] = pattern
    return block == pattern


def _answers():
    """The check value of CRC-32 (Rocksoft model, "123456789"), and what any float of 24 bits gets right."""
    if binascii.crc32(b"123456789") & 0xFFFFFFFF != 0xCBF43926:
        return False
    if 46_337 * 23_171 != 1_073_674_627 or 1_073_674_627 // 46_337 != 23_171:
        return False
    return abs(math.sin(math.pi / 6.0) - 0.5) < 1e-6 and math.sqrt(0.25) == 0.5


def _deeper(left):
    return 0 if left == 0 else 1 + _deeper(left - 1)
