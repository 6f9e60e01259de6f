"""The board's flash as the bench keeps it: files by path, with power cuts at any step. Units: bytes.

`littlefs` commits a file at close; `in_place` lets every step show at once, so that a cut leaves a
torn file, as a FAT volume would. A step is one write, close, rename or remove.
"""


class PowerCut(BaseException):
    """The supply went away inside a flash step. Not an Exception: no handler on board can catch it."""


class FlashStore:
    """files: path -> bytes; steps: how many so far; cut_at: the step before which the power goes."""

    def __init__(self, files: dict[str, bytes] | None = None, style: str = "littlefs") -> None:
        if style not in ("littlefs", "in_place"):
            raise ValueError(f"flash style: {style!r} is not littlefs or in_place")
        self.files: dict[str, bytes] = dict(files or {})
        self.in_place = style == "in_place"
        self.steps = 0
        self.cut_at: int | None = None
        self.closes = 0
        self.full = False  # no room for another byte

    def call(self, op: str, path: str, data: bytes) -> bytes | None:
        """One operation of the firmware; None: there is no such file, or no room to write."""
        if op in ("read", "size", "part"):
            return self._read(op, self.files.get(path), data)
        if op == "list":
            names = [p[len(path) :] for p in sorted(self.files) if p.startswith(path)]
            return "\n".join(n for n in names if "/" not in n).encode()
        if self.full and op in ("open", "write", "close"):
            return None
        if op == "open":
            if self.in_place:
                self._step()
                self.files[path] = b""
            return b""
        self._step()
        if op == "write":
            if self.in_place:
                self.files[path] = data
        elif op == "close":
            self.files[path] = data
            self.closes += 1
        elif op == "rename":
            self.files[data.decode()] = self.files.pop(path)
        elif op == "remove":
            del self.files[path]
        return b""

    @staticmethod
    def _read(op: str, body: bytes | None, where: bytes) -> bytes | None:
        """All of a file, its size, or a part of it (`where`: offset and length in text)."""
        if body is None or op == "read":
            return body
        if op == "size":
            return b"%d" % len(body)
        at, n = map(int, where.split())
        return body[at : at + n]

    def _step(self) -> None:
        if self.cut_at is not None and self.steps >= self.cut_at:
            self.cut_at = None
            raise PowerCut(f"power cut at flash step {self.steps}")
        self.steps += 1
