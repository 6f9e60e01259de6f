# Runs the firmware on MicroPython's unix port, one boot per process. Units: ms of wall time.
# What is said is as engine_node/runner.mjs has it; what is heard is eight digits and so many bytes. The
# first of it: JSON {before, load, start}.
import builtins
import io
import json
import sys
from time import ticks_diff, ticks_us

_HEAP_EVERY = 512  # cycles
_read = sys.stdin.buffer.read
_say = sys.stdout.buffer.write
_stderr = sys.stderr
_print = print


def _hear():
    head = _read(8)
    if len(head) < 8:
        raise SystemExit  # the bench has gone
    return _read(int(head))


class Bench:
    # In place of the module `js` that shims/pipe.py asks for
    def __init__(self):
        self.spent_us = 0
        self.done = ""

    def bench(self, line):
        t0 = ticks_us()
        _say(self.done + line + "\n")
        self.done = ""
        answer = _hear()
        self.spent_us += ticks_diff(ticks_us(), t0)
        return answer


def _shown(*what, **how):
    _print(*what, file=_stderr)


def _run(link):
    first = json.loads(_hear())
    space = {"__name__": "board"}
    exec(first["before"], space)
    collect, heap = space["collect"], space["heap"]
    sys.modules["gc"] = Gc
    collect()
    bare = heap()
    exec(first["load"], space)
    collect()
    loaded = heap()
    exec(first["start"], space)
    cycle = space["cycle"]
    link.done = ""
    _say("D %d %d\n" % (bare, loaded))
    del first, space
    n = 0
    while True:
        link.spent_us = 0
        t0 = ticks_us()
        cycle()
        took = "D %.3f" % ((ticks_diff(ticks_us(), t0) - link.spent_us) / 1000)
        if n % _HEAP_EVERY == 0:
            collect()
            took += " %d" % heap()
        link.done = took + "\t"
        n += 1


class Gc:
    # The firmware looks at its heap at every tick and has it collected every few. Here that is half of the
    # time and tells nothing: it is collected once much has been taken, and before the heap is looked at.
    collect = enable = disable = threshold = mem_alloc = staticmethod(lambda n=0: 0)
    mem_free = staticmethod(lambda: 1 << 18)


builtins.print = _shown
link = Bench()
sys.modules["js"] = link
for name in ("time", "os", "machine"):
    sys.modules.pop(name, None)
try:
    _run(link)
except Exception as error:
    told = io.StringIO()
    sys.print_exception(error, told)
    if link.done:
        _say(link.done + "\n")
    _say("E " + json.dumps(told.getvalue()) + "\n")
