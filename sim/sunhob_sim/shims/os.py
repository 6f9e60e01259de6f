"""Stand-in for the board's `os`: names of the bench's flash. Units: bytes."""

import wire

sep = "/"


def _has(path):
    got = wire.host.flash("size", path, b"")
    if got is None:
        raise OSError(2)
    return int(got)


def listdir(path="/"):
    got = wire.host.flash("list", path.rstrip("/") + "/", b"")
    return [str(name, "utf8") for name in got.split(b"\n") if name]


def ilistdir(path="/"):
    return iter([(name, 0x8000, 0, 0) for name in listdir(path)])


def stat(path):
    if path in ("/", "/data", "/data/"):
        return (0x4000, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    return (0x8000, 0, 0, 0, 0, 0, _has(path), 0, 0, 0)


def statvfs(path):
    return (4096, 4096, 352, 300, 300, 0, 0, 0, 0, 255)


def remove(path):
    _has(path)
    wire.host.flash("remove", path, b"")


unlink = remove


def rename(old, new):
    _has(old)
    wire.host.flash("rename", old, new.encode())


def mkdir(path):
    pass


def sync():
    pass


class _Uname(tuple):
    """Like the board's: a tuple whose parts have names too."""

    @property
    def release(self):
        return self[2]

    @property
    def machine(self):
        return self[4]


def uname():
    port = "esp32" if wire.machine[-5:] == "ESP32" else "rp2"
    return _Uname((port, port, "1.27.0", "bench", wire.machine))
