"""Requests and replies: the examples of the specification, and the bounds of every declared parameter.

Units: those of declared/methods.py.
"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob_board.declared.methods import METHODS
from sunhob_board.link import frame
from sunhob_board.link.rpc import Rpc, RpcRefusal, table_id

TABLE = (("subtract", (("minuend", "int", -999, 999, "1", True), ("subtrahend", "int", -999, 999, "1", True)),
          "anyone", "Subtract."),
         ("update", (), "anyone", "Nothing."),
         ("refuse", (), "nobody", "Refuse."), ("trip", (), "anyone", "Trip."))


def _refuse(_params):
    raise RpcRefusal(-32000, "not now")


def example():
    return Rpc({"subtract": lambda p: p["minuend"] - p["subtrahend"], "update": lambda p: None,
                "refuse": _refuse, "trip": lambda p: 1 // 0}, TABLE)


def ask(rpc, text):
    got = rpc.handle(frame.encode(text.encode())[:-1])
    return None if got is None else json.loads(frame.decode(got[:-1]))


# JSON-RPC 2.0 specification (2010-03-26, updated 2013-01-04), section 7, examples, jsonrpc.org/specification.
# Its batch examples are refused here on purpose: one request to a line.
SPEC = (
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [42, 23], "id": 1}', 19, 1),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [23, 42], "id": 2}', -19, 2),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": {"subtrahend": 23, "minuend": 42}, "id": 3}', 19, 3),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": {"minuend": 42, "subtrahend": 23}, "id": 4}', 19, 4),
    ('{"jsonrpc": "2.0", "method": "update"}', None, None),
    ('{"jsonrpc": "2.0", "method": "foobar"}', None, None),
    ('{"jsonrpc": "2.0", "method": "foobar", "id": "1"}', -32601, "1"),
    ('{"jsonrpc": "2.0", "method": "foobar, "params": "bar", "baz]', -32700, None),
    ('{"jsonrpc": "2.0", "method": 1, "params": "bar"}', -32600, None),
    ("[]", -32600, None),
    ("[1,2,3]", -32600, None),
)


@pytest.mark.parametrize(("text", "wanted", "ident"), SPEC)
def test_examples_of_the_specification(text, wanted, ident):
    got = ask(example(), text)
    if wanted is None:
        assert got is None
    elif wanted <= -32000:
        assert got["error"]["code"] == wanted and got["id"] == ident and "result" not in got
    else:
        assert got == {"jsonrpc": "2.0", "result": wanted, "id": ident}


@pytest.mark.parametrize(("text", "code"), [
    ('{"jsonrpc": "1.0", "method": "update", "id": 1}', -32600),
    ('{"method": "update", "id": 1}', -32600),
    ('{"jsonrpc": "2.0", "method": "update", "id": 1, "extra": 1}', -32600),
    ('{"jsonrpc": "2.0", "method": "update", "id": true}', -32600),
    ('{"jsonrpc": "2.0", "method": "update", "id": [1]}', -32600),
    ('{"jsonrpc": "2.0", "method": "update", "params": 3, "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "update", "params": {"a": 3}, "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [1, 2, 3], "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [1], "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [1, true], "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [1, 1000], "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "subtract", "params": [1, 2.5], "id": 1}', -32602),
    ('{"jsonrpc": "2.0", "method": "refuse", "id": 1}', -32000),
    ('{"jsonrpc": "2.0", "method": "trip", "id": 1}', -32603),
    ("7", -32600), ("null", -32600), ("[" * 400, -32700),
])
def test_what_is_wrong_is_said(text, code):
    assert ask(example(), text)["error"]["code"] == code


def test_a_harmed_line_changes_nothing_and_is_counted():
    rpc = example()
    called = []
    rpc.handlers["update"] = called.append
    line = frame.encode(b'{"jsonrpc": "2.0", "method": "update", "id": 1}')[:-1]
    for at in range(len(line)):
        harmed = bytearray(line)
        harmed[at] ^= 1
        assert rpc.handle(bytes(harmed)) is None
    assert not called and rpc.bad_lines == len(line)
    assert rpc.handle(b"") is None and rpc.handle(b"\r") is None and rpc.bad_lines == len(line)
    assert rpc.handle(line) is not None and len(called) == 1


def test_a_reply_is_never_answered():
    """A line that echoes must not start an endless exchange of errors."""
    rpc = example()
    for name in ("foobar", "update"):
        reply = rpc.handle(frame.pack({"jsonrpc": "2.0", "method": name, "id": 1})[:-1])
        assert rpc.handle(reply[:-1]) is None
    assert rpc.bad_lines == 0


def test_an_answer_too_long_for_a_line_is_an_error():
    rpc = example()
    rpc.handlers["update"] = lambda p: "x" * frame.MAX_OUT
    assert ask(rpc, '{"jsonrpc": "2.0", "method": "update", "id": 1}')["error"]["code"] == -32603


def _value(row):
    kind, low, high = row[1], row[2], row[3]
    if kind == "bool":
        return st.booleans()
    if kind == "choice":
        return st.sampled_from(low)
    if kind == "int0":
        return st.integers(low, high) | st.just(0)
    return st.integers(low, high)


def _wrong(row):
    kind, low, high = row[1], row[2], row[3]
    odd = st.none() | st.lists(st.integers(), max_size=2) | st.just({})
    if kind == "bool":
        return odd | st.integers() | st.text(max_size=5)
    if kind == "choice":
        return odd | st.text(max_size=9).filter(lambda t: t not in low) | st.integers()
    beyond = st.sampled_from([low - 1, high + 1, 10**30, -(10**30), float("nan"), float("inf"), -1e300])
    return odd | beyond | st.booleans() | st.text(max_size=5)


@given(st.sampled_from(METHODS), st.data())
def test_handlers_see_only_what_the_table_allows(row, data):
    seen = []
    rpc = Rpc({row[0]: lambda p: seen.append(p) or {}})
    good = {p[0]: data.draw(_value(p)) for p in row[1]}
    assert "result" in ask(rpc, json.dumps({"jsonrpc": "2.0", "method": row[0], "params": good, "id": 1}))
    assert seen == [good]
    for p in row[1]:
        bad = dict(good, **{p[0]: data.draw(_wrong(p))})
        got = ask(rpc, json.dumps({"jsonrpc": "2.0", "method": row[0], "params": bad, "id": 1}))
        assert got["error"]["code"] == -32602 and p[0] in got["error"]["message"]
    assert seen == [good]


@given(st.binary(max_size=600))
def test_garbage_never_raises(junk):
    rpc = example()
    rpc.handle(junk)
    rpc.handle(frame.encode(junk)[:-1])


def test_hello_names_the_table():
    got = ask(Rpc({"hello": lambda p: {"firmware": "0"}}), '{"jsonrpc": "2.0", "method": "hello", "id": 1}')
    assert got["result"]["table"] == table_id()
