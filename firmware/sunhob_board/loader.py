"""The board's /main.py: starts the controller that was installed last, and the one before if that fails.

No units but ms. Two folders, /a and /b, each hold a whole controller: code, settings, tables. The pointer
/sunhob.now names one of them in a line `<folder> <state> <other>`; other is '-' where there is none.
States: `trial` (not run yet), `tried` (running for the first time), `good` (has run well), `back` (good,
after the newer one failed). A restart while `tried` means that it failed: the other one is taken again.
Each change is written beside and put in place by one rename, so that a cut leaves the old line or the new.
/sunhob.why keeps what the last failure said. /sunhob.console, or the words of ESCAPE heard at the start,
give the console instead, once.
"""

import binascii
import gc
import os
import sys

POINTER = "/sunhob.now"
NEXT = "/sunhob.new"
WHY = "/sunhob.why"
CONSOLE = "/sunhob.console"
ESCAPE = b"sunhob-console"
STATES = ("trial", "tried", "good", "back")
_LISTEN_MS = 300
_LISTEN_ON_MS = 20
_MOST_HEARD = 500
_BACK_MS = 60_000
_COLLECT_BYTES = 16_384  # while code is loaded: else what stays of it lies strewn over the whole heap


def read(path):
    """The text of a file, '' where there is none."""
    try:
        with open(path) as f:
            return f.read()
    except (OSError, ValueError):
        return ""


def write(path, text):
    """Put a text in place of a file's, at once; False, and all as before, where there is no room."""
    try:
        with open(NEXT, "w") as f:
            f.write(text)
        try:
            os.rename(NEXT, path)
        except OSError:  # a file system that does not put one file in another's place
            os.remove(path)
            os.rename(NEXT, path)
    except OSError:
        return False
    return True


def whole(folder):
    """Whether a folder was filled to the end: its list is written last."""
    return bool(read("/" + folder + "/files.json"))


def mark(folder):
    """CRC-32 of the list of what a folder holds, and of this file after it: a host knows by it whether it
    would bring anything new."""
    crc = 0
    for path in ("/" + folder + "/files.json", "/main.py"):
        crc = binascii.crc32(read(path).encode(), crc)
    return crc & 0xFFFFFFFF


def pointer():
    """[folder, state, other]; found anew where the line is missing or spoilt, None on an empty board."""
    for path in (POINTER, NEXT):
        now = read(path).split()
        if len(now) == 3 and now[0] in ("a", "b") and now[1] in STATES and now[2] in ("a", "b", "-"):
            return now
    have = [folder for folder in ("a", "b") if whole(folder)]
    return [have[0], "good", have[1] if len(have) > 1 else "-"] if have else None


class Loader:
    """What the controller may ask of what started it. holds: mark() of the folder that was started."""

    def __init__(self):
        self.now = pointer()
        self.holds = 0

    def put(self, folder, state, other):
        """Write the pointer."""
        self.now = [folder, state, other]
        write(POINTER, " ".join(self.now) + "\n")

    def choose(self):
        """Folder to start, with the pointer set so that a failure is known as one at the next start."""
        folder, state, other = self.now
        if state == "tried" and other != "-":
            self.put(other, "back", folder)
        elif state == "trial":
            self.put(folder, "tried", other)
        return self.now[0]

    def proven(self):
        """The controller has run well."""
        if self.now[1] in ("trial", "tried"):
            self.put(self.now[0], "good", self.now[2])

    def why(self):
        """What the controller that failed said last, where this one runs in its place."""
        return read(WHY).strip() if self.now[1] == "back" else ""

    def going_back(self):
        """Whether this is a first run with an older controller behind it."""
        return self.now[1] == "tried" and self.now[2] != "-"

    def failed(self, words):
        """Keep what the failure said; one that ran well before makes way only if it cannot start at all."""
        write(WHY, self.now[0] + ": " + words[:200] + "\n")

    def instead(self):
        """The other controller at the next start: this one cannot even begin."""
        if self.now[1] in ("good", "back") and self.now[2] != "-" and whole(self.now[2]):
            self.put(self.now[2], "trial", self.now[0])

    @staticmethod
    def console():
        """The console at the next start."""
        write(CONSOLE, "once\n")


def asked():
    """Whether the console is wanted instead of the controller, this once."""
    if read(CONSOLE):
        os.remove(CONSOLE)
        return True
    import select

    poll = select.poll()
    poll.register(sys.stdin, select.POLLIN)
    heard, wait_ms = b"", _LISTEN_MS
    for _ in range(_MOST_HEARD):  # who chatters all the time must not keep the controller from its start
        if not poll.poll(wait_ms):
            break
        heard = (heard + sys.stdin.buffer.read(1))[-len(ESCAPE):]
        if heard == ESCAPE:
            return True
        if heard[-1] == 10:  # a line of the link: somebody waits for the controller
            wait_ms = _LISTEN_ON_MS
    return False


def console():
    """Give the console; the controller is back in 60 s unless deinit() is called on what this returns."""
    import machine
    import micropython

    micropython.kbd_intr(3)
    try:
        timer = machine.Timer(-1)
    except ValueError:  # a chip with timers of its own only
        timer = machine.Timer(0)
    timer.init(mode=machine.Timer.ONE_SHOT, period=_BACK_MS, callback=lambda _timer: machine.reset())
    return timer


def begin():
    """Start what the pointer names; come back only to the console."""
    import machine
    import micropython

    micropython.kbd_intr(-1)
    loader = Loader()
    if loader.now is None:
        micropython.kbd_intr(3)
        return None
    if asked():
        return console()
    folder = loader.choose()
    loader.holds = mark(folder)
    gc.threshold(_COLLECT_BYTES)
    sys.path.insert(0, "/" + folder)
    started = False
    try:
        from sunhob_board import main

        started = True
        main.run("/" + folder + "/", loader)
    except Exception as err:  # anything: the board starts again, the other controller if need be
        loader.failed("%s %s" % (type(err).__name__, err))
        if not started:
            loader.instead()
    machine.reset()


if __name__ == "__main__":
    back = begin()
