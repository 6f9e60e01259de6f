"""The bench behind a pipe, for the MicroPython engine: one JSON line each way. Units: see wire."""

import json
from binascii import hexlify, unhexlify

import js

_call = js.bench
_dumps = json.dumps
_loads = json.loads


def _ask(what):
    return _loads(_call(_dumps(what)))


def exchange(wait_us, out):
    i = 2
    for x in out[2::3]:
        if isinstance(x, bytes):
            out[i] = str(hexlify(x), "utf8")
        i += 3
    got = _loads(_call(_dumps([wait_us, out])))
    if got[7]:
        got[7] = [(port, unhexlify(data)) for port, data in got[7]]
    return got


def i2c_read(addr, reg, n):
    got = _ask(["r", addr, reg, n])
    return None if got is None else unhexlify(got)


def i2c_write(addr, reg, data):
    return _ask(["w", addr, reg, str(hexlify(data), "utf8")])


def spi(low, n):
    return unhexlify(_ask(["s", low, n]))


def flash(op, path, data):
    got = _ask(["f", op, path, str(hexlify(data), "utf8")])
    return None if got is None else unhexlify(got)
