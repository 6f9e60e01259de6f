"""Files of the board's flash, kept by the bench under /data; others are not there. Units: bytes.

Behaves as littlefs does: what is written is there at close, a rename replaces at once. Each write,
close, rename and remove is one step at which the bench can cut the power. What is only read is fetched piece
by piece, as it is asked for.
"""

import wire

_SIZE_LIMIT = 1 << 20
_LINE = 96


class File:
    def __init__(self, path, mode):
        self._path = path
        self._text = "b" not in mode
        self._writes = "r" not in mode or "+" in mode
        self._at = 0
        self._body = bytearray()  # of a file that is written
        self._size = 0
        if "w" in mode:
            _written("open", path, b"")
        else:
            got = wire.host.flash("size", path, b"")
            if got is None and "a" not in mode:
                raise OSError(2)
            self._size = int(got or b"0")
            if self._writes or "a" in mode:
                self._body = bytearray(wire.host.flash("read", path, b"") or b"")
            if "a" in mode:
                self._at = self._size
        self._open = True

    def __enter__(self):
        return self

    def __exit__(self, kind, value, trace):
        self.close()

    def __iter__(self):
        return iter(self.readline, "" if self._text else b"")

    def _give(self, got):
        self._at += len(got)
        return bytes(got).decode() if self._text else bytes(got)

    def _part(self, n):
        """Up to n bytes from where it stands."""
        if self._writes:
            return self._body[self._at : self._at + n]
        if n <= 0 or self._at >= self._size:
            return b""
        return wire.host.flash("part", self._path, b"%d %d" % (self._at, n)) or b""

    def read(self, n=-1):
        return self._give(self._part(self._end() - self._at if n < 0 else n))

    def readinto(self, buf):
        got = self._part(len(buf))
        self._at += len(got)
        buf[: len(got)] = got
        return len(got)

    def readline(self):
        size = _LINE
        while True:
            got = self._part(size)
            end = got.find(b"\n")
            if end >= 0 or len(got) < size:
                return self._give(got if end < 0 else got[: end + 1])
            size *= 2

    def _end(self):
        return len(self._body) if self._writes else self._size

    def seek(self, at, whence=0):
        self._at = at + (0, self._at, self._end())[whence]
        return self._at

    def tell(self):
        return self._at

    def write(self, data):
        if not self._writes:
            raise OSError(9)
        data = data.encode() if self._text else bytes(data)
        end = self._at + len(data)
        if end > _SIZE_LIMIT:
            raise OSError(28)
        self._body[self._at : end] = data
        self._at = end
        _written("write", self._path, bytes(self._body))
        return len(data)

    def flush(self):
        pass

    def close(self):
        writes = self._open and self._writes
        self._open = False
        if writes:
            _written("close", self._path, bytes(self._body))


def _written(op, path, data):
    if wire.host.flash(op, path, data) is None:
        raise OSError(28)


def open(path, mode="r", **_other):
    return File(path, mode)
