"""Program and tables in flash against the list of check sums that the installer left. Units: bytes.

The list `code.crc` lies beside the settings: a line `sunhob-code <crc of the rest>`, then for each file
`<crc> <size> <path>`, CRC-32 in eight hex digits, paths from the folder of the code. Tables and settings
have check sums of their own, judged when they are loaded; here they must stay as they were at boot.
"""

import binascii

LIST = "code.crc"
MAGIC = b"sunhob-code"
NO_LIST = 1  # what `bad` tells of the list itself; file n of the list is n + 1
DATA = ("sun.tab", "heat.tab", "settings.a", "settings.b")
_SLICE = 1024


class Sum:
    """CRC-32 of one file, a slice at a step. size is -1 where there is none."""

    def __init__(self, opener):
        self.open = opener
        self.path = ""
        self.crc = self.size = 0
        self._buf = bytearray(_SLICE)

    def begin(self, path, skip=0):
        self.path = path
        self.crc = 0
        self.size = skip

    def step(self):
        """True once the whole file is in crc and size."""
        try:
            with self.open(self.path, "rb") as f:
                f.seek(self.size)
                count = f.readinto(self._buf)
        except OSError:
            self.size = -1
            return True
        self.crc = binascii.crc32(memoryview(self._buf)[:count], self.crc) & 0xFFFFFFFF
        self.size += count
        return count < _SLICE


class Files:
    """listed: whether a list is there. bad: 0, or which file of the list (see NO_LIST) is not as listed.
    data_bad: 0, or which of DATA, from 1, has changed since boot. rounds: whole rounds since boot."""

    def __init__(self, data, code, opener=open):
        self.data, self.code, self.open = data, code, opener
        self.listed = False
        self.bad = self.data_bad = 0
        self.rounds = 0
        self._sum = Sum(opener)
        self._first = []
        self._number = 0  # of the file in hand: those of DATA, then those of the list
        self._at = self._start = 0
        self._want = (0, 0)
        self._busy = False

    def boot(self):
        """Everything once, before anything moves."""
        for name in DATA:
            self._first.append(self._whole(self.data + name, 0))
        head = self._line(0)
        self.listed = len(head) > 0
        if not self.listed:
            return
        self._start = self._at = len(head)
        crc, size = self._whole(self.data + LIST, len(head))
        if head != MAGIC + b" %08x\n" % crc or size <= len(head):
            self.bad = NO_LIST
        self._number = len(DATA)
        while self.rounds == 0:
            self.step()
        self.rounds = 0

    def _whole(self, path, skip):
        self._sum.begin(path, skip)
        while not self._sum.step():
            pass
        return self._sum.crc, self._sum.size

    def _line(self, at):
        """The line of the list that begins at byte `at`; empty at its end, or where there is no list."""
        try:
            with self.open(self.data + LIST, "rb") as f:
                f.seek(at)
                return f.readline()
        except OSError:
            return b""

    def step(self):
        """One slice of one file."""
        if not self._busy:
            self._next()
        elif self._sum.step():
            self._busy = False
            if (self._sum.crc, self._sum.size) != self._want:
                if self._number < len(DATA):
                    self.data_bad = self._number + 1
                else:
                    self.bad = self._number - len(DATA) + 1 + NO_LIST
            self._number += 1

    def _next(self):
        n = self._number
        if n < len(DATA):
            self._want = self._first[n]
            self._sum.begin(self.data + DATA[n])
            self._busy = True
            return
        words = ()
        if self.listed and self.bad != NO_LIST:
            line = self._line(self._at)
            words = line.split()
        if len(words) != 3:
            if n == len(DATA) and self.listed:
                self.bad = self.bad or NO_LIST  # a list of nothing, or one that has gone
            self._number = 0
            self._at = self._start
            self.rounds += 1
            return
        self._at += len(line)
        self._want = int(words[0], 16), int(words[1])
        self._sum.begin(self.code + words[2].decode())
        self._busy = True
