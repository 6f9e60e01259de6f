"""Tables and settings as they stand in memory, against what they were when they were loaded. Units: bytes.

Sound in flash is not sound in memory: every aim is made from the copies. One slice at a step.
"""

import binascii

from ..declared import settings as declared

_SLICE = 2048
_ROWS = 12  # settings a step


class Copies:
    """tables: each with buffers(), its contents as bytes or arrays; s: the settings.
    bad: 0, or which has changed: 1 + number of the table, or 100 for the settings."""

    SETTINGS = 100

    def __init__(self, tables, s):
        self.tables = tables
        self.s = s
        self.bad = 0
        self._names = [names[0] for names in declared.board_names()]
        self._first = []
        self._table = self._buffer = self._at = self._crc = self._row = 0
        self.rounds = 0
        while self.rounds == 0:
            self.step()
        self.rounds = 0
        self._learn = False

    _learn = True

    def step(self):
        """One slice of one of them."""
        if self._table < len(self.tables):
            self._slice(self.tables[self._table].buffers())
        else:
            self._settings()

    def _slice(self, buffers):
        data = memoryview(buffers[self._buffer])
        self._crc = binascii.crc32(data[self._at : self._at + _SLICE], self._crc) & 0xFFFFFFFF
        self._at += _SLICE
        if self._at < len(data):
            return
        self._at = 0
        self._buffer += 1
        if self._buffer == len(buffers):
            self._buffer = 0
            self._judge(self._table, self._table + 1)
            self._table += 1

    def _settings(self):
        names = self._names
        for i in range(self._row, min(self._row + _ROWS, len(names))):
            self._crc = binascii.crc32(repr(getattr(self.s, names[i])).encode(), self._crc) & 0xFFFFFFFF
        self._row += _ROWS
        if self._row >= len(names):
            self._judge(len(self.tables), self.SETTINGS)
            self._row = self._table = 0
            self.rounds += 1

    def _judge(self, place, code):
        if self._learn:
            self._first.append(self._crc)
        elif self._crc != self._first[place]:
            self.bad = code
        self._crc = 0
