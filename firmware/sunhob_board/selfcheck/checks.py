"""Runs the self-checks: all at boot, then one bounded slice at a time. Units: ms.

A slice every ten seconds while nothing moves, or every minute if it never rests: a round of the program
takes about half an hour, one of the tables and settings in memory about three minutes.
"""

from ..core import place
from ..declared import interlocks as table
from . import proof
from .copies import Copies
from .files import Files
from .memory import Memory

_I = table.INDEX
_EVERY_MS = 10_000
_AT_LATEST_MS = 60_000
_RAIL_MV, _RAIL_OFF_MV = 3_300, 165  # 5 %: the rail's own and the converter's; common practice, no source


class Checks:
    """proven: the watchdog works; tried: it was tried just now. data, code: folders.

    judge(...) puts the rows that are bad now."""

    def __init__(self, board, locks, data, code):
        self.board = board
        self.locks = locks
        self.files = Files(data, code)
        self.memory = Memory()
        self.copies = None
        self.tried = proof.read(board.rtc)[0] == proof.TRYING
        self.proven = self._prove()
        self.files.boot()
        self.memory.step()
        self.memory.room()
        self.no_power = False  # motor power is not as driven: steps sent now turn nothing, or all
        self._since = 0

    def _prove(self):
        got = place.Place(self.board.rtc).read()
        return proof.prove(self.board, got is None or not got[2] & (place.MOVING | place.ON_SUN))

    def watch(self, tables, s):
        """Tables and settings are loaded: keep an eye on these copies."""
        self.copies = Copies(tables, s)

    def step(self):
        """The next slice of flash, of memory, of the copies: some ms on a board."""
        self.files.step()
        self.memory.step()
        if self.copies is not None:
            self.copies.step()

    def judge(self, dt_ms, moving, clock, light):
        """A slice if one is due; the rows that are bad."""
        self._since += dt_ms
        due = self._since >= (_AT_LATEST_MS if moving else _EVERY_MS)
        if due:
            self._since = 0
            self.step()
        files, put = self.files, self.locks.put
        off = self.board.read_back(due)
        self.no_power = bool(off & 1)
        copy = files.data_bad or (self.copies.bad if self.copies else 0)
        if files.bad:
            put(_I["code_bad"], files.bad)
        if not files.listed:
            put(_I["code_unlisted"], 1)
        if copy:
            put(_I["copy_bad"], copy)
        if self.memory.bad:
            put(_I["memory_bad"], self.memory.bad)
        if self.memory.low:
            put(_I["memory_low"], self.memory.low)
        if clock.rate_ppm:
            put(_I["clock_rate"], clock.rate_ppm)
        if off:
            put(_I["output_stuck"], off)
        if not self.proven:
            put(_I["watchdog"], 1)
        if abs(light.rail_mv - _RAIL_MV) > _RAIL_OFF_MV:
            put(_I["reference"], max(1, light.rail_mv))
