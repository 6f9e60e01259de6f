"""Puts a controller on a board so that the board is never without one. Units: bytes, seconds.

The board has two folders, each a whole controller (see sunhob_board/loader.py). The one in force is not
touched: the other is brought to what is wanted, file by file, only what differs, from the folder in force
where that has it; read back by CRC; then the pointer is set to try it. It counts as good once it has run
well; else the board goes back by itself. Whenever the cable goes, the old one starts again.

Not by mpremote: its Ctrl-C means nothing to a running controller. The console is asked for over the link;
each piece of code puts off the timer that hands the port back (60 s, `keep` below); CRCs come
in batches, and every trouble is one line. With mpremote the tests try the package (package.py).
"""

from __future__ import annotations

import base64
import json
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sunhob_board import loader

from ..errors import Judged, LinkError, UserError
from ..link import Dish, open_wire
from . import reach
from .image import KINDS, LIST, Kind, crc, kind_of, listing, loader_text, mark
from .raw_repl import BoardError, RawRepl
from .reach import Opener, take_console

Files = dict[str, bytes]
Found = dict[str, list[int]]  # name: size, CRC
Progress = Callable[[str, int, int], None]

OLDEST = (1, 24)
_BLOCK = 4096
_SPARE = 16_384  # left free for what the controller keeps
_CHUNK = 768
_PROVEN_S = 45.0
_ON_BOARD = """
import os, sys, json, binascii
def keep():
    t = globals().get('back')
    if t:
        import machine
        t.init(mode=machine.Timer.ONE_SHOT, period=60000, callback=lambda _: machine.reset())
def crc(p):
    n = c = 0
    with open(p, 'rb') as f:
        while True:
            b = f.read(512)
            if not b:
                return [n, c & 0xffffffff]
            n += len(b)
            c = binascii.crc32(b, c)
def tree(top, at='', out=None):
    keep()
    out = {} if out is None else out
    try:
        rows = list(os.ilistdir(top + at))
    except OSError:
        return out
    for row in rows:
        name = at + '/' + row[0]
        if row[1] & 0x4000:
            tree(top, name, out)
        else:
            out[name[1:]] = crc(top + name)
    return out
def folders(p):
    at = ''
    for part in p.split('/')[1:-1]:
        at += '/' + part
        try:
            os.mkdir(at)
        except OSError:
            pass
def put(p):
    global f
    keep()
    folders(p)
    f = open(p, 'wb')
def more(s):
    keep()
    f.write(binascii.a2b_base64(s))
def shut(p):
    f.close()
    print(json.dumps(crc(p)))
def copy(a, b):
    put(b)
    with open(a, 'rb') as g:
        while True:
            s = g.read(512)
            if not s:
                break
            f.write(s)
    shut(b)
def drop(p):
    keep()
    try:
        os.remove(p)
    except OSError:
        pass
def move(a, b):
    keep()
    try:
        os.rename(a, b)
    except OSError:
        drop(b)
        os.rename(a, b)
def text(p):
    try:
        with open(p) as g:
            return g.read(4000)
    except (OSError, ValueError):
        return ''
"""


_FACTS = f"""
print(json.dumps({{'name': sys.implementation.name, 'version': list(sys.implementation.version[:3]),
    'mpy': getattr(sys.implementation, '_mpy', 0) & 255, 'machine': os.uname().machine,
    'free': os.statvfs('/')[0] * os.statvfs('/')[3],
    'main': crc('/main.py') if 'main.py' in os.listdir('/') else None,
    'ours': 'sunhob' in text('/main.py')[:2000], 'pointer': text({loader.POINTER!r}).split()}}))
"""


@dataclass
class Plan:
    """What is to be done to a folder: names to remove, to copy on the board, to send; kept: right as is."""

    remove: list[str] = field(default_factory=list)
    copy: list[str] = field(default_factory=list)
    send: list[str] = field(default_factory=list)
    kept: list[str] = field(default_factory=list)


def plan(wanted: Files, there: Found, in_force: Found) -> Plan:
    """How to bring a folder that holds `there` to `wanted`, with `in_force` at hand to copy from."""
    steps = Plan(remove=sorted(name for name in there if name not in wanted and name != LIST))
    for name, body in sorted(wanted.items()):
        mark = [len(body), crc(body)]
        if there.get(name) == mark:
            steps.kept.append(name)
        elif in_force.get(name) == mark:
            steps.copy.append(name)
        else:
            steps.send.append(name)
    return steps


class Console:
    """The files of a board through its console."""

    def __init__(self, repl: RawRepl) -> None:
        self.repl = repl
        self._facts = json.loads(repl.run(_ON_BOARD + _FACTS))  # in one: each piece costs some round trips

    def ask(self, code: str, timeout_s: float = 60.0) -> Any:
        """What an expression gives there, through JSON."""
        return json.loads(self.repl.run(f"print(json.dumps({code}))", timeout_s))

    def facts(self) -> dict[str, Any]:
        """MicroPython's name, version and file version, the machine, free bytes of flash, /main.py (size and
        CRC, None where there is none), whether that is our loader, words of the pointer."""
        return self._facts  # type: ignore[no-any-return]

    def folders(self) -> dict[str, Found]:
        """What the two folders hold, each file read to its end for its CRC."""
        return dict(zip("ab", self.ask("[tree('/a'), tree('/b')]"), strict=True))

    def send(self, path: str, data: bytes, tick: Callable[[int], None] = lambda n: None) -> None:
        """Write a file and read it back by CRC; once more if it came out wrong."""
        for _ in range(2):
            self.repl.run(f"put({path!r})")
            for at in range(0, len(data), _CHUNK):
                part = data[at : at + _CHUNK]
                self.repl.run(f"more({base64.b64encode(part)!r})")
                tick(len(part))
            if json.loads(self.repl.run(f"shut({path!r})")) == [len(data), crc(data)]:
                return
        raise UserError(f"board: {path} does not read back as it was written; its flash may be worn out")

    def replace(self, path: str, data: bytes) -> None:
        """Put a file in place of another at once: the old one or the new one is there, whatever happens."""
        self.send(loader.NEXT, data)
        self.repl.run(f"move({loader.NEXT!r}, {path!r})")

    def point(self, folder: str, state: str, other: str) -> None:
        """Set the pointer that the loader reads."""
        self.replace(loader.POINTER, f"{folder} {state} {other}\n".encode())


def judge(facts: dict[str, Any], wanted: str | None) -> Kind:
    """The kind of board, or UserError with what is wrong with it."""
    told = ".".join(str(part) for part in facts["version"])
    if facts["name"] != "micropython" or tuple(facts["version"][:2]) < OLDEST or facts["mpy"] != 6:
        raise UserError(f"board: it runs {facts['name']} {told} (compiled files of version {facts['mpy']}); "
                        f"put MicroPython {OLDEST[0]}.{OLDEST[1]} or later of the 1.x line on it")
    kind = kind_of(facts["machine"])
    _as_wanted(kind.name, facts["machine"], wanted)
    return kind


def _as_wanted(name: str, machine: str, wanted: str | None) -> None:
    if wanted is not None and wanted != name:
        raise UserError(f"--board {wanted}: the board on this port is a {name} ({machine}); "
                        f"give --board {name} or another port")


class _Unchanged(UserError):
    """The controller that runs is what would be installed. answer: as of an installation."""

    def __init__(self, answer: dict[str, Any]) -> None:
        super().__init__("there already")
        self.answer = answer


def _unless_there(hello: dict[str, Any], kind: Kind, files: Files) -> None:
    """Raise _Unchanged where a controller that has run well, and finds its files as they should be, runs
    from just these: it need not be stopped, nor wait at rest."""
    if not hello.get("proven") or hello.get("trouble") or hello.get("holds") != mark(files, kind):
        return
    count = len(files) + 1  # with the list of them
    raise _Unchanged({
        "board": kind.name, "micropython": hello["micropython"], "files": count, "sent": 0, "copied": 0,
        "kept": count, "bytes_sent": 0, "free_bytes": hello["flash_free"],
        "folder": hello["folder"].strip("/"), "tried": False, "hello": hello})


class Install:
    """One installation. result() after run(): counts, bytes, folder; see `sunhob board install --json`."""

    def __init__(self, url: str, opener: Opener = open_wire, progress: Progress | None = None) -> None:
        self.url = url
        self.opener = opener
        self.tell = progress or (lambda what, done, total: None)

    def run(
        self, make: Callable[[Kind], Files], board: str | None = None, replace: bool = False
    ) -> dict[str, Any]:
        """Bring the board to what `make` gives for its kind. LinkError, UserError; Judged: it went back."""
        made: dict[str, Files] = {}

        def before(hello: dict[str, Any]) -> None:
            """What can be refused, and what takes long, comes before the controller is stopped."""
            kind = KINDS.get(str(hello.get("board")))
            if kind is not None:
                _as_wanted(kind.name, kind.words, board)
                made[kind.name] = make(kind)
                _unless_there(hello, kind, made[kind.name])

        try:
            repl = take_console(self.url, self.opener, before)
        except _Unchanged as there:
            return there.answer
        try:
            answer = self._fill(Console(repl), lambda kind: made.get(kind.name) or make(kind), board, replace)
        except BoardError as error:
            raise UserError(f"board: {error}; the controller that was there starts again") from None
        except LinkError as error:
            raise LinkError(f"{error}; the controller that was there starts again by itself: "
                            "mend the cable and install again") from None
        finally:
            repl.reset()
        answer["hello"] = self._proven(answer)
        return answer

    def _fill(
        self, console: Console, make: Callable[[Kind], Files], board: str | None, replace: bool
    ) -> dict[str, Any]:
        facts = console.facts()
        kind = judge(facts, board)
        self._ours(facts, replace)
        files = make(kind)
        now = facts["pointer"]
        have = console.folders()
        if len(now) != 3:  # the loader takes the first that is whole
            now = [next((name for name in have if LIST in have[name]), "-"), "", "-"]
        force, state = now[0], now[1]
        if state in ("trial", "tried"):  # it never came to run well: the one before is in force
            force = now[2]
        wanted = {**files, LIST: listing(files, kind)}
        marks = {name: [len(body), crc(body)] for name, body in wanted.items()}
        told = ".".join(map(str, facts["version"]))
        answer = {"board": kind.name, "micropython": told, "files": len(wanted), "sent": 0, "copied": 0,
                  "kept": len(wanted), "bytes_sent": 0, "free_bytes": facts["free"]}
        right_loader = facts["main"] == [len(loader_text()), crc(loader_text())]
        if force != "-" and have[force] == marks and right_loader:
            if state in ("trial", "tried"):
                console.point(force, "good", "-")
            return {**answer, "folder": force, "tried": False}
        target = "b" if force == "a" else "a"
        steps = plan(files, have[target], have.get(force, {}))
        self._room(steps, files, have[target], facts["free"])
        if force != "-":
            console.point(force, "good", "-")
        answer.update(self._bring(console, steps, files, target, force))
        self._verify(console, target, marks, wanted[LIST])
        if not right_loader:
            console.replace("/main.py", loader_text())
        console.repl.run("folders('/data/x')")
        console.point(target, "trial", force)
        return {**answer, "folder": target, "tried": True}

    @staticmethod
    def _ours(facts: dict[str, Any], replace: bool) -> None:
        """Refuse a board that runs another's program, unless it may be replaced."""
        if facts["main"] is not None and not facts["ours"] and not replace:
            raise UserError(f"board: its /main.py ({facts['main'][0]} bytes) is another program; save it, "
                            "then install with --replace")

    @staticmethod
    def _room(steps: Plan, files: Files, there: Found, free: int) -> None:
        """Refuse, with nothing touched, what would not fit."""
        def blocks(size: int) -> int:
            return -(-size // _BLOCK) * _BLOCK

        need = sum(blocks(len(files[name])) for name in steps.copy + steps.send) + _SPARE
        freed = sum(blocks(there[name][0]) for name in there if name not in steps.kept)
        room = max(0, free + freed)
        if need > room:
            raise UserError(f"board: full: {need // 1024} kB are needed, {room // 1024} kB are free; remove "
                            "files of others from it (sunhob board console)")

    def _bring(self, console: Console, steps: Plan, files: Files, target: str, force: str) -> dict[str, int]:
        console.repl.run(f"drop('/{target}/{LIST}')")  # from here to the end, this folder is not whole
        for name in steps.remove:
            console.repl.run(f"drop('/{target}/{name}')")
        for done, name in enumerate(steps.copy):
            self.tell("copying on the board", done, len(steps.copy))
            console.repl.run(f"copy('/{force}/{name}', '/{target}/{name}')")
        total, sent = sum(len(files[name]) for name in steps.send), 0

        def tick(count: int) -> None:
            nonlocal sent
            sent += count
            self.tell("sending", min(sent, total), total)

        for name in steps.send:
            console.send(f"/{target}/{name}", files[name], tick)
        return {"sent": len(steps.send), "copied": len(steps.copy), "kept": len(steps.kept),
                "bytes_sent": sent}

    @staticmethod
    def _verify(console: Console, target: str, marks: Found, rows: bytes) -> None:
        """Read the whole folder back; the list that makes it whole comes last."""
        there = console.ask(f"tree('/{target}')")
        wrong = [name for name, mark in marks.items() if name != LIST and there.get(name) != mark]
        wrong += sorted(set(there) - set(marks))
        if wrong:
            raise UserError(f"board: {wrong[0]} does not read back as it should; "
                            "nothing was changed over: install again")
        console.send(f"/{target}/{LIST}", rows)

    def _proven(self, answer: dict[str, Any]) -> dict[str, Any]:
        """Wait until the controller runs and says that it runs well; Judged if the board went back."""
        until = time.monotonic() + _PROVEN_S
        folder, said = f"/{answer['folder']}/", ""
        while time.monotonic() < until:
            self.tell("waiting for the controller to run well", 0, 0)
            try:
                hello = self._hello()
            except LinkError:
                continue
            if hello.get("folder") != folder:
                why = hello.get("why") or "no words"
                raise Judged(f"board: the new controller did not run well ({why}); "
                             "the one before is back and runs")
            if hello.get("proven") or not (answer["tried"] or hello.get("trouble")):
                return hello  # what had run well already, and starts again, need not be waited for
            said = hello.get("trouble") or said
            time.sleep(0.1)
        if not said:
            raise LinkError(f"port {self.url}: the board restarted and does not answer yet; look at the "
                            "cable: whatever runs well there, the new controller or the one before, is kept")
        raise Judged(f"board: the controller does not run well: {said}")

    def _hello(self) -> dict[str, Any]:
        with Dish(self.url, wire=reach.again(self.url, self.opener)) as dish:
            return dish.hello(reach.HEARD_S)
