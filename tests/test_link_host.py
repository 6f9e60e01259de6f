"""The host's end of the link and `sunhob dish`, against the board's own dispatcher on a line in memory.

Units: those of declared/methods.py; seconds on the host.
"""

import json
import os
import pty
import socket
import threading
import tty
import zlib
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
import serial
from hypothesis import given
from hypothesis import strategies as st
from sunhob import cli, cli_dish, link
from sunhob.board.raw_repl import RawRepl
from sunhob.errors import LinkError, UserError
from sunhob_board.declared import events as ev
from sunhob_board.link import frame
from sunhob_board.link.port import Port
from sunhob_board.link.rpc import Rpc, RpcRefusal


class Wire:
    """Both ends of a line: what the host writes goes through Port and Rpc of the firmware at once."""

    def __init__(self, rpc, harm=None):
        self.rpc, self.harm = rpc, harm
        self.to_board, self.to_host = bytearray(), bytearray()
        self.port = Port(self)
        self.now = 0

    def any(self):
        return len(self.to_board)

    def readinto(self, buf, count):
        count = min(count, len(self.to_board))
        buf[:count] = self.to_board[:count]
        del self.to_board[:count]
        return count

    def write(self, data):
        if data.__class__ is memoryview:  # the board's end
            self.to_host += data
        else:
            self.to_board += data if self.harm is None else self.harm(data)
        return len(data)

    def read(self, size):
        self.now += 100
        line = self.port.poll(self.now)
        if line is not None:
            reply = self.rpc.handle(line)
            if reply:
                self.port.send_reply(reply)
        got = bytes(self.to_host[:size])
        del self.to_host[:size]
        return got

    def close(self):
        pass


def _refuse(_params):
    raise RpcRefusal(-32000, "press ARM at the dish first")


def board():
    rpc = Rpc({
        "hello": lambda p: {"firmware": "0.1.0"},
        "status": lambda p: {"mode": "PARKED", "clock_known": True, "day": 9669, "ms": 60_000, "tripped": []},
        "leave": lambda p: {"mode": "LEAVING"}, "heat": lambda p: {"heat_percent": p["percent"]},
        "cook": _refuse, "nudge": lambda p: {"mode": "BY_HAND"}, "clear": lambda p: {"cleared": p["code"]},
        "set": lambda p: {"north_deg": 1.5, "standard_error_deg": 0.1} if p["what"] == "north" else p,
        "log": lambda p: {"records": [[n, 1, 0, 2, 9669, 5000] for n in range(p["from"], 40)][:p["count"]]},
    })
    return rpc


@pytest.fixture
def dish():
    wire = Wire(board())
    with link.Dish("test", wire=wire) as one:
        one.wire = wire
        yield one


@given(st.dictionaries(st.text(max_size=8), st.integers() | st.text(max_size=8) | st.none(), max_size=5))
def test_both_ends_write_the_same_frame(message):
    assert json.loads(frame.decode(link.encode(message)[:-1])) == message
    assert link.decode(frame.pack(message)[:-1]) == message


@given(st.binary(max_size=300))
def test_garbage_is_no_message(junk):
    assert link.decode(junk) is None
    link.decode(junk + b" #%08X" % zlib.crc32(junk))


@given(st.lists(st.binary(max_size=60), max_size=12))
def test_the_splitter_is_bounded_and_right(pieces):
    whole = b"".join(pieces)
    splitter = link.Splitter(limit=20)
    lines = []
    for piece in pieces:
        lines += splitter.feed(piece)
        assert len(splitter._held) <= 20
    ended = whole.split(b"\n")[:-1]
    assert lines == [x for x in ended if len(x) <= 20 and x.strip()]
    assert splitter.overlong == sum(len(x) > 20 for x in ended)


def test_ask_and_hear(dish):
    told, telemetry = [], []
    dish.events, dish.telemetry = told.append, telemetry.append
    dish.wire.port.send_event({"e": "boot", "a": 1})
    dish.wire.port.send_telemetry({"mode": "PARKED"})
    assert dish.call("status")["mode"] == "PARKED"
    assert dish.call("heat", percent=37.5) == {"heat_percent": 37.5}
    assert told == [{"e": "boot", "a": 1}] and telemetry == [{"mode": "PARKED"}]


def test_refusals_come_as_one_line(dish):
    with pytest.raises(link.BoardRefused, match="press ARM at the dish first") as caught:
        dish.call("cook", percent=50)
    assert caught.value.code == -32000 and caught.value.exit_code == 2
    with pytest.raises(link.BoardRefused, match=r"percent: 101 is not within 0\.\.100"):
        dish.call("heat", percent=101)


def test_a_silent_board_is_told_within_its_time():
    wire = Wire(board(), harm=lambda data: b"")
    with pytest.raises(LinkError, match=r"no answer to status within 0\.05 s") as caught:
        link.Dish("test", wire=wire).call("status", timeout_s=0.05)
    assert caught.value.exit_code == 3


def test_a_cable_that_goes_is_told_without_pyserial_s_guess():
    end, far = pty.openpty()
    tty.setraw(far)
    name = os.ttyname(far)
    wire = link.open_wire(name)
    os.close(far)
    os.close(end)  # the cable is out
    bare = SimpleNamespace(read=wire.read, write=wire.write)  # without the count that tells it by itself
    with pytest.raises(serial.SerialException, match="readiness to read but returned no data"):
        wire.read(1)
    with pytest.raises(LinkError) as caught:
        RawRepl(bare, name)._read()
    assert str(caught.value) == f"port {name}: lost; look at the cable"
    with pytest.raises(LinkError, match=r"lost \(Input/output error\); look at the cable"):
        RawRepl(wire, name)._read()
    with pytest.raises(LinkError, match=r"lost while writing \(Input/output error\); look at the cable"):
        link.Dish(name, wire=bare)
    wire.close()


def test_leave_is_asked_again_where_a_line_was_harmed(monkeypatch):
    monkeypatch.setattr(link, "_TRY_S", 0.02)
    count = [0]

    def harm(data):
        count[0] += 1
        return data.replace(b"leave", b"leafe") if count[0] < 4 else data

    rpc = board()
    assert link.Dish("test", wire=Wire(rpc, harm)).call("leave") == {"mode": "LEAVING"}
    assert rpc.bad_lines == 2


def test_what_moves_is_never_asked_twice(monkeypatch):
    monkeypatch.setattr(link, "_TRY_S", 0.01)
    seen = []
    rpc = board()
    rpc.handlers["aside"] = lambda p: seen.append(1) or {}
    wire = Wire(rpc)
    wire.port.send_reply = lambda line: None
    with pytest.raises(LinkError):
        link.Dish("test", wire=wire).call("aside", timeout_s=0.1)
    assert seen == [1]


def test_another_table_bars_changes_but_not_leaving(dish):
    dish.wire.rpc.table = "0000"
    with pytest.raises(LinkError, match="the board speaks table 0000"):
        dish.call("heat", percent=10)
    assert dish.call("leave") == {"mode": "LEAVING"}


def test_a_socket_works_as_a_port_does():
    rpc, server = board(), socket.create_server(("127.0.0.1", 0))

    def serve():
        end, _ = server.accept()
        with end, end.makefile("rwb", buffering=0) as lines:
            for line in lines:
                reply = rpc.handle(line[:-1])
                if reply:
                    lines.write(reply)

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    with link.Dish(f"socket://127.0.0.1:{server.getsockname()[1]}") as one:
        assert one.call("heat", percent=5) == {"heat_percent": 5}
    thread.join(5)
    server.close()


@pytest.fixture
def on_line(monkeypatch):
    wire = Wire(board())
    monkeypatch.setattr(link, "open_wire", lambda url: wire)
    return wire


@pytest.mark.parametrize(("words", "key"), [
    (["status"], "mode"), (["leave"], "mode"), (["heat", "40"], "heat_percent"),
    (["clear", "loop_late"], "cleared"),
    (["set", "time"], "day"), (["set", "time", "--at", "2026-06-21T09:00:00+02:00"], "ms"),
    (["set", "north"], "north_deg"), (["log", "--from", "3"], "records"),
    (["nudge", "1", "--rate", "-30", "--seconds", "0.2", "--covered"], "asked"),
])
def test_each_command_prints_one_object(on_line, capsys, words, key):
    for extra in (["--json"], []):
        assert cli.run(["dish", *words, "--port", "x", *extra]) == 0
        text = capsys.readouterr().out
        if extra:
            got = json.loads(text)
            assert key in got
        else:
            assert text.strip() and "{" not in text
    if words[0] == "log":
        assert [r["number"] for r in got["records"]] == list(range(3, 40))
        assert got["records"][0]["name"] == ev.EVENTS[1][0]
        assert got["records"][0]["at_utc"] == "2026-06-22T00:00:05.000Z"
    if words[-1].startswith("2026"):
        assert got["ms"] == 7 * 3_600_000 and got["day"] == 9668


@pytest.mark.parametrize(("words", "code", "part"), [
    (["cook", "50"], 2, "press ARM"), (["cook", "0"], 2, "percent"), (["heat", "101"], 2, "percent"),
    (["nudge", "1", "--rate", "10"], 2, "--covered"), (["clear", "bad_name"], 2, "is no interlock"),
    (["set", "time", "--at", "noon"], 2, "no ISO time"),
    (["set", "time", "--at", "2026-06-21T09:00"], 2, "offset"),
    (["set", "north", "--at", "2026-06-21T09:00Z"], 2, "leave it out"),
    (["set", "south"], 2, "is not time, north or season"),
    (["clear", "99"], 2, "is no interlock"),
])
def test_one_clear_line_on_failure(on_line, capsys, words, code, part):
    assert cli.run(["dish", *words, "--port", "x"]) == code
    out, err = capsys.readouterr()
    assert out == "" and part in err and len(err.strip().splitlines()) == 1


@pytest.mark.parametrize("url", ["/dev/no-such-port", "socket://127.0.0.1:1", "nonsense://x"])
def test_no_port_is_exit_code_3(capsys, url):
    assert cli.run(["dish", "status", "--port", url]) == 3
    out, err = capsys.readouterr()
    assert out == "" and "cannot be opened" in err and len(err.strip().splitlines()) == 1


def test_time_of_the_board():
    at = datetime(2026, 6, 21, 9, 0, 0, 250_000, tzinfo=UTC)
    assert cli_dish.board_time(at) == (9668, 9 * 3_600_000 + 250)
    assert cli_dish.utc_text(9668, 9 * 3_600_000 + 250) == "2026-06-21T09:00:00.250Z"


def test_a_request_too_long_for_the_board_is_not_sent(dish):
    with pytest.raises(UserError, match="at most 512"):
        dish.call("status", x="y" * 600)


@pytest.mark.parametrize(("row", "words"), [
    ([3, ev.CODES["mode"], 4, 0, 9669, 0], "LEAVING PARKED"),
    ([3, ev.CODES["warn"], 1, 3, 9669, 0], "COMING 3"),
    ([3, ev.CODES["trip"], 2, 0, 9669, 0], "clock_unset 0"), ([3, ev.CODES["homed"], 2, -5, 9669, 0], "2 -5"),
    ([3, ev.CODES["trip"], 250, 0, 9669, 0], "250 0"), ([3, 200, 1, 2, 9669, 0], "1 2"),
])
def test_the_log_tells_interlocks_and_modes_by_name(row, words):
    got = cli_dish._record(row)
    assert (got["told"], got["a"], got["b"]) == (words, row[2], row[3])
