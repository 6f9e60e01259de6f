"""The bench behind a pipe, for the MicroPython engine: one JSON line each way. Units: see wire.

A line each way costs more than a whole tick of the firmware. So what was read from a bus lately comes along
with each exchange, as it reads at that moment, and what is written to a device that answers goes out with the
next one: between two exchanges no time passes, and nothing on a bus changes but by such writes.
"""

import json
from binascii import hexlify, unhexlify

import js

_call = js.bench
_dumps = json.dumps
_loads = json.loads
_SPI = -1
# address or _SPI, register or mask of selected chips, length, bytes in hex or None; one after another
_ahead = []
_used = 0  # bit k: the k-th of _ahead was asked for
_posted = []  # address, register, bytes in hex; one after another
_answers = []  # addresses on the bus where something answers
_selects = 0  # pins that select a chip


def _text(data):
    return str(hexlify(data), "utf8")


def _ask(what):
    """One call beside the exchanges; what is still to be written goes before it."""
    global _posted
    if _posted:
        what.append(_posted)
        _posted = []
    return _loads(_call(_dumps(what)))


def exchange(wait_us, out):
    global _ahead, _used, _posted, _answers, _selects
    i = 2
    for x in out[2::3]:
        if isinstance(x, bytes):
            out[i] = _text(x)
        i += 3
    got = _loads(_call(_dumps([wait_us, out, _posted, _used])))
    if _posted:
        _posted = []
    _used = 0
    if len(got) > 9:
        _ahead = got[9]
        if len(got) > 10:
            _answers, _selects = got[10]
    else:
        _ahead = ()
    if got[7]:
        got[7] = [(port, unhexlify(data)) for port, data in got[7]]
    return got[:9]


def _find(which, where, n):
    """Place in _ahead of such a read, or -1."""
    for i in range(0, len(_ahead), 4):
        if _ahead[i] == which and _ahead[i + 1] == where and _ahead[i + 2] == n:
            return i
    return -1


def _read(which, where, n, kind):
    global _used
    i = _find(which, where, n)
    if i < 0:
        got = _ask([kind, which, where, n])
    else:
        got = _ahead[i + 3]
        _used |= 1 << i // 4
    return None if got is None else unhexlify(got)


def i2c_read(addr, reg, n):
    return _read(addr, reg, n, "r")


def i2c_write(addr, reg, data):
    for i in range(0, len(_ahead), 4):
        if _ahead[i] == addr:
            _ahead[i] = None  # it may read otherwise now
    if addr not in _answers:
        return _ask(["w", addr, reg, _text(data)])
    _posted.append(addr)
    _posted.append(reg)
    _posted.append(_text(data))
    return True


def spi(low, n):
    return _read(_SPI, low & _selects, n, "s")


def flash(op, path, data):
    got = _ask(["f", op, path, _text(data)])
    return None if got is None else unhexlify(got)
