"""The power going at each single write of an install: the loader then starts a whole controller.

Units: bytes, steps of the flash. What the installer sends to the console runs here on a flash in memory, and
so does the loader, so that every step can be tried; some of them also on real MicroPython, in
test_board_install.py.
"""

import builtins
import io
from contextlib import redirect_stdout
from pathlib import Path
from types import SimpleNamespace

import pytest
from sunhob.board.image import KINDS, LIST, listing
from sunhob.board.install import Console, Install
from sunhob.errors import LinkError
from sunhob_board import loader as loader_module

OLD = {"sunhob_board/main.py": b"old" * 300, "sunhob_board/same.py": b"same", "settings.a": b"s1",
       "gone.tab": b"g" * 900}
NEW = {"sunhob_board/main.py": b"new" * 400, "sunhob_board/same.py": b"same", "settings.a": b"s2"}

OLDER = {"sunhob_board/main.py": b"older" * 500, "sunhob_board/left.py": b"left"}


class Cut(BaseException):
    """No handler on the board sees it."""


class Handle(io.BytesIO):
    def __init__(self, flash, path, body, writes):
        super().__init__(body)
        self.flash, self.path, self.writes = flash, path, writes

    def write(self, data):
        super().write(data.encode() if isinstance(data, str) else data)
        if self.flash.in_place:
            self.flash.step()
            self.flash.files[self.path] = self.getvalue()
        return len(data)

    def close(self):
        if self.writes and not self.closed:
            self.flash.step()
            self.flash.files[self.path] = self.getvalue()
        super().close()

    def __del__(self):
        """A file that the power took is not closed later, when it happens to be collected."""


class Text(Handle):
    def read(self, n=-1):
        return super().read(n).decode()


class Flash:
    """files: path -> bytes. A file is there at close (littlefs), or as it is written (in_place: FAT)."""

    def __init__(self, files, in_place):
        self.files, self.in_place = dict(files), in_place
        self.steps, self.cut_at = 0, None
        self.threshold = -1  # bytes that are handed out between two collections; -1: until there are no more

    def step(self):
        if self.steps == self.cut_at:
            raise Cut
        self.steps += 1

    def open(self, path, mode="r"):
        if "w" in mode:
            if self.in_place:
                self.step()
                self.files[path] = b""
            return Handle(self, path, b"", True)
        if path not in self.files:
            raise OSError(2)
        return (Handle if "b" in mode else Text)(self, path, self.files[path], False)

    def ilistdir(self, top):
        at = top.rstrip("/") + "/"
        below = [path[len(at):] for path in self.files if path.startswith(at)]
        names = {(path.split("/")[0], "/" in path) for path in below}
        return [(name, 0x4000 if folder else 0x8000, 0, 0) for name, folder in sorted(names)]

    def remove(self, path):
        if path not in self.files:
            raise OSError(2)
        self.step()
        del self.files[path]

    def rename(self, a, b):
        if a not in self.files:
            raise OSError(2)
        self.step()
        self.files[b] = self.files.pop(a)

    def collect_every(self, size):
        self.threshold = size

    def board(self):
        """Names of a program that runs on this flash."""
        os = SimpleNamespace(
            ilistdir=self.ilistdir, listdir=lambda top: [row[0] for row in self.ilistdir(top)],
            rename=self.rename, remove=self.remove, mkdir=lambda path: None,
            statvfs=lambda path: (4096, 4096, 352, 300),
            uname=lambda: SimpleNamespace(machine="Raspberry Pi Pico with RP2040"))
        sys = SimpleNamespace(implementation=SimpleNamespace(name="micropython", version=(1, 27, 0), _mpy=6))
        own = {"os": os, "sys": sys, "gc": SimpleNamespace(threshold=self.collect_every)}

        def find(name, *rest):
            return own[name] if name in own else builtins.__import__(name, *rest)

        said = {**vars(builtins), "open": self.open, "__import__": find}
        return {"__name__": "board", "__builtins__": said}


class Desk:
    """The console of that board, as RawRepl gives one."""

    def __init__(self, flash):
        self.names = flash.board()

    def run(self, code, timeout_s=20.0):
        said = io.StringIO()
        try:
            with redirect_stdout(said):
                exec(code, self.names)
        except Cut:
            raise LinkError("port desk: lost; look at the cable") from None
        return said.getvalue()


def install(flash, files):
    console = Console(Desk(flash))
    return Install("desk")._fill(console, lambda kind: files, None, False)


def start(flash):
    """What the loader starts: the folder, once whatever failed has made way."""
    names = flash.board()
    exec(Path(loader_module.__file__).read_text(), names)
    loader = names["Loader"]()
    assert loader.now is not None, "the board has no controller"
    return loader, loader.choose()


def held(flash, folder):
    return {path[3:]: body for path, body in flash.files.items() if path.startswith(f"/{folder}/")}


def whole(files):
    return {**files, LIST: listing(files, KINDS["pico"])}


@pytest.fixture(params=[False, True], ids=["littlefs", "in place"])
def before(request):
    """A board that runs OLD from /b, with an older one in /a."""
    flash = Flash({}, request.param)
    for files in (OLDER, OLD):
        install(flash, files)
        loader, folder = start(flash)
        loader.proven()
    assert held(flash, folder) == whole(OLD)
    return flash


def copy_of(flash, cut_at):
    made = Flash(flash.files, flash.in_place)
    made.cut_at = cut_at
    return made


def test_the_power_going_at_any_step_of_an_install_leaves_a_whole_controller(before):
    steps = copy_of(before, None)
    install(steps, NEW)
    seen = set()
    for at in range(steps.steps):
        flash = copy_of(before, at)
        with pytest.raises(LinkError):
            install(flash, NEW)
        flash.cut_at = None
        _, folder = start(flash)
        found = held(flash, folder)
        assert found in (whole(OLD), whole(NEW)), at
        seen.add(found == whole(NEW))
        start(flash)[0].proven()
        install(flash, NEW)
        assert held(flash, start(flash)[1]) == whole(NEW), "and the install goes through the next time"
    assert steps.steps >= 10 and False in seen


def test_the_power_going_while_the_loader_chooses_or_goes_back_leaves_a_whole_controller(before):
    tried = copy_of(before, None)
    install(tried, NEW)
    for starts in range(1, 4):  # the new one never runs well: after its first start the old one is back
        for at in range(6):
            flash = copy_of(tried, at)
            try:
                for _ in range(starts):
                    start(flash)
            except Cut:
                pass
            flash.cut_at = None
            assert held(flash, start(flash)[1]) in (whole(OLD), whole(NEW))
    start(tried)
    assert held(tried, start(tried)[1]) == whole(OLD)


def test_the_power_going_while_the_first_controller_comes_leaves_none_or_a_whole_one():
    steps = Flash({}, True)
    install(steps, NEW)
    for at in range(steps.steps):
        flash = Flash({}, True)
        flash.cut_at = at
        with pytest.raises(LinkError):
            install(flash, NEW)
        flash.cut_at = None
        install(flash, NEW)
        assert held(flash, start(flash)[1]) == whole(NEW)


def test_code_is_loaded_with_collections_close_together():
    """On a Pico's 240 kB the names that stay lay strewn over the heap: no 13 kB in one piece for the sun's
    table were left, and the controller never started."""
    flash, seen = Flash({}, False), []
    install(flash, NEW)
    names = flash.board()
    find = names["__builtins__"]["__import__"]

    def run(folder, loader):
        seen.append(flash.threshold)

    own = {"sunhob_board": SimpleNamespace(main=SimpleNamespace(run=run)),
           "micropython": SimpleNamespace(kbd_intr=lambda key: None),
           "machine": SimpleNamespace(reset=lambda: seen.append("reset"))}
    names["__builtins__"]["__import__"] = lambda name, *rest: own.get(name) or find(name, *rest)
    exec(Path(loader_module.__file__).read_text(), names)
    names["asked"] = lambda: False
    names["sys"].path = []
    names["begin"]()
    assert 0 < seen[0] <= 32_768 and seen[1:] == ["reset"]
