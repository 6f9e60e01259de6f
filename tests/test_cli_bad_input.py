"""Wrong values and paths for the commands: one plain line that names what is wrong, never a traceback.

No units. A scenario or cooker file lists a line for each mistake instead (their own tests).
"""

import os

import pytest
from sunhob import cli

NOW = 'start = 2026-03-12T05:00:00Z\n'
SCENARIOS = {
    "day": ('start = 2026-03-12\n', "line 2: start = 2026-03-12: is a day without a time"),
    "words": ('start = "tomorrow"\n', "line 2: start = tomorrow: is no time"),
    "early": ('start = 1800-03-12T05:00:00Z\n', "2001 to 2098"),
    "late": ('start = 9999-12-31T23:00:00Z\n', "2001 to 2098"),
    "west": ('start = "9999-12-31T23:00:00-14:00"\n', "is no time"),
    "number": ("start = 3\n", "line 2: start = 3: is no time"),
    "bump": (NOW + '[[action]]\nat = "05:01"\ndo = "bump"\n', "bump needs value = -90 to 90 degrees"),
    "table": (NOW + "[base]\ntable_days = 0\n", "line 5: base.table_days = 0"),
}


def told(capsys, arguments, code=2):
    assert cli.run(arguments) == code
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


@pytest.mark.parametrize("name", SCENARIOS)
@pytest.mark.parametrize("command", [["bench", "run", "{}", "--engine", "cpython"],
                                     ["dish", "status", "--port", "bench:{}"]])
def test_a_bad_scenario_is_told_with_its_line(tmp_path, capsys, name, command):
    body, words = SCENARIOS[name]
    file = tmp_path / "x.toml"
    file.write_text('name = "x"\n' + body.replace("[", "hours = 0.1\n[", 1)
                    + ("" if "[" in body else "hours = 0.1\n"))
    said = told(capsys, [one.format(file) for one in command])
    assert words in said and "1 mistake" in said and said.count("\n") == 2


@pytest.mark.parametrize("port", ["socket://", "socket://localhost", "socket://localhost:99999",
                                  "socket://localhost:abc", "socket://[::1", "socket://:7777"])
def test_a_bad_address_is_told_in_our_words(capsys, port):
    said = told(capsys, ["dish", "status", "--port", port], 3)
    assert said == f"sunhob: port {port}: is no address; write socket://HOST:PORT with a PORT of 1 to 65535\n"


@pytest.mark.parametrize("port", ["", "/dev/null", "/", "hwgrep://nothing", "nothing://x", "a\0b",
                                  "socket://localhost:1"])
def test_a_port_that_is_none_is_one_line(capsys, port):
    said = told(capsys, ["dish", "status", "--port", port], 3)
    assert said.count("\n") == 1 and "cannot be opened" in said


@pytest.mark.parametrize(("port", "why"), [
    ("/dev/null", "it is no serial port"), ("socket://localhost:1", "Connection refused"),
    ("/", "Is a directory"),
])
def test_why_a_port_will_not_open_is_the_systems_reason_and_no_more(capsys, port, why):
    said = told(capsys, ["dish", "status", "--port", port], 3)
    assert f"port {port}: cannot be opened ({why}); look" in said


@pytest.mark.parametrize("arguments", [
    ["demo", "--engine", "cpython", "--scenario", "short", "--out", "{file}"],
    ["demo", "--engine", "cpython", "--scenario", "short", "--out", "{file}/below"],
    ["bench", "run", "short", "--engine", "cpython", "--plot", "{file}/x.png"],
    ["bench", "run", "short", "--engine", "cpython", "--plot", "{folder}.png"],
    ["new", "{pipe}", "--force"],
    ["sun", "--lat", "1", "--lon", "2", "--engine", "{file}"],
    ["sun", "--lat", "1", "--lon", "2", "--table", "{file}"],
    ["table", "check", "{file}"],
])
def test_what_cannot_be_used_is_told_before_any_work(tmp_path, capsys, monkeypatch, arguments):
    monkeypatch.setattr("sunhob_sim.cli_bench.run_scenario", lambda *a, **k: pytest.fail("it ran"))
    names = {"file": tmp_path / "file", "folder": tmp_path / "folder", "pipe": tmp_path / "pipe"}
    names["file"].touch()
    (tmp_path / "folder.png").mkdir()
    os.mkfifo(names["pipe"])
    said = told(capsys, [one.format(**names) for one in arguments])
    assert said.count("\n") == 1 and str(tmp_path) in said
    assert names["pipe"].is_fifo(), "what is there and is no file is not replaced"
