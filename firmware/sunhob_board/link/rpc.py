"""Requests in, replies out: JSON-RPC 2.0 over framed lines, each parameter judged by the declared table.

Units: those of declared/methods.py. Nothing below this file sees a parameter that is out of its bounds.
A line that fails its CRC changes nothing, is not answered and is counted.
"""

import json
from binascii import crc32

from ..declared import methods as declared
from . import frame

_KEYS = ("jsonrpc", "method", "params", "id")


class RpcRefusal(Exception):
    """Raised by a handler that will not do it: RpcRefusal(code, text in plain words)."""

    def __init__(self, code, text):
        super().__init__(code, text)
        self.code = code
        self.text = text


def table_id(methods=declared.METHODS):
    """CRC-32 of the methods' names and parameters, eight hex digits, the same on every interpreter."""
    return "%08X" % (crc32(repr([(row[0], row[1]) for row in methods]).encode()) & 0xFFFFFFFF)


class Rpc:
    """handlers: name -> callable(params dict) that returns a result or raises RpcRefusal.

    bad_lines, refused, faults: counts since start.
    """

    def __init__(self, handlers, methods=declared.METHODS):
        self.handlers = handlers
        self.rows = {}
        for row in methods:
            self.rows[row[0]] = row
        self.table = table_id(methods)
        self.bad_lines = 0
        self.refused = 0
        self.faults = 0

    def handle(self, line):
        """The framed reply as bytes, or None where none is due. line: bytes without line feed."""
        body = frame.decode(line)
        if body is None:
            if line.strip():
                self.bad_lines += 1
            return None
        try:
            message = json.loads(body)
        except (ValueError, RuntimeError):
            return self._error(None, declared.PARSE_ERROR, "not JSON")
        if not isinstance(message, dict):
            return self._error(None, declared.INVALID_REQUEST, "one request to a line, no batches")
        if "method" not in message and ("result" in message or "error" in message):
            return None  # a reply, perhaps our own come back: answering it would never end
        return self._request(message)

    def _request(self, message):
        answer = "id" in message
        ident = message.get("id")
        if ident is not None and type(ident) is not int and not isinstance(ident, str):
            return self._error(None, declared.INVALID_REQUEST, "id: a whole number or text is needed")
        name = message.get("method")
        fault = None
        if message.get("jsonrpc") != "2.0":
            fault = "jsonrpc: '2.0' is needed"
        elif not isinstance(name, str):
            fault = "method: a name is needed"
        else:
            for key in message:
                if key not in _KEYS:
                    fault = "%s: not a part of a request" % key
        if fault is not None:
            return self._error(ident, declared.INVALID_REQUEST, fault)
        try:
            result = self._call(name, message.get("params", {}))
        except RpcRefusal as error:
            self.refused += 1
            return self._error(ident, error.code, error.text) if answer else None
        except Exception as error:  # whatever a handler trips over, the loop must go on
            self.faults += 1
            text = "internal error: " + type(error).__name__
            return self._error(ident, declared.INTERNAL_ERROR, text) if answer else None
        return self._result(ident, result) if answer else None

    def _call(self, name, params):
        row = self.rows.get(name)
        if row is None or name not in self.handlers:
            raise RpcRefusal(declared.NO_METHOD, "no method '%s'" % name[:32])
        result = self.handlers[name](judge(row[1], params))
        if name == "hello":
            result["table"] = self.table
        return result

    def _result(self, ident, result):
        line = frame.pack({"jsonrpc": "2.0", "result": result, "id": ident})
        if len(line) > frame.MAX_OUT:
            return self._error(ident, declared.INTERNAL_ERROR, "the answer is too long for one line")
        return line

    def _error(self, ident, code, text):
        return frame.pack({"jsonrpc": "2.0", "error": {"code": code, "message": text}, "id": ident})


def judge(wanted, params):
    """The parameters by name, each checked; those given by position are named in the declared order.

    Raises RpcRefusal with INVALID_PARAMS and one line that names parameter, value and limit.
    """
    if isinstance(params, list):
        if len(params) > len(wanted):
            text = "%d parameters, at most %d" % (len(params), len(wanted))
            raise RpcRefusal(declared.INVALID_PARAMS, text)
        named = {}
        for i in range(len(params)):
            named[wanted[i][0]] = params[i]
        params = named
    elif not isinstance(params, dict):
        raise RpcRefusal(declared.INVALID_PARAMS, "params: names with values are needed")
    known = 0
    for row in wanted:
        if row[0] in params:
            known += 1
            _judge_one(row, params[row[0]])
        elif row[5]:
            raise RpcRefusal(declared.INVALID_PARAMS, "%s: missing [%s]" % (row[0], row[4]))
    if known != len(params):
        for name in params:
            if name not in [row[0] for row in wanted]:
                raise RpcRefusal(declared.INVALID_PARAMS, "%s: no such parameter" % name[:32])
    return params


def _judge_one(row, value):
    name, kind, low, high, unit, _needed = row
    if kind == "bool":
        good = value is True or value is False
    elif kind == "choice":
        good = isinstance(value, str) and value in low
    else:
        good = type(value) is int or (kind == "number" and isinstance(value, float))
        inside = good and (low <= value <= high or (kind == "int0" and value == 0))
        if good and not inside:
            text = "%s: %s is not within %d..%d %s" % (name, value, low, high, unit)
            raise RpcRefusal(declared.INVALID_PARAMS, text)
    if not good:
        raise RpcRefusal(declared.INVALID_PARAMS, "%s: %s needed [%s]" % (name, kind, unit))
