"""`sunhob board` as a user has it: a serial port (a pseudo-terminal) with a virtual board behind it.

Units: bytes, s. Package manager: mpremote's own, where it is installed.
"""

import http.server
import os
import pty
import select
import subprocess
import sys
import threading
import time
from functools import partial

import pytest
from sunhob import cli
from sunhob.board import install as installer
from sunhob.board import put as putting
from sunhob.board import reach
from sunhob.board.image import KINDS
from sunhob.board.package import write_package
from sunhob.cooker_edit import edit_cooker
from sunhob.settings import load_cooker
from sunhob_sim.console_board import ConsoleBoard
from sunhob_sim.desk import Terminal, serve_once
from sunhob_sim.plant_geometry import TrueMount

from .test_align import seen_by, write_csv
from .test_board_install import tiny


class Desk:
    """A board on a port, served from a thread. pull_after: bytes from the host after which the cable goes."""

    def __init__(self, folder, **made):
        self.folder, self.made = folder, made
        self.pull_after = None
        self.plug()

    def plug(self):
        """Cable in, power on."""
        self.board, self.heard = ConsoleBoard(self.folder, **self.made), 0
        self.terminal = Terminal(self.folder / "port")
        self.port, self._on = self.terminal.name, True
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self):
        take = self.terminal.take

        def counted(wait_s):
            data = take(wait_s)
            self.heard += len(data)
            return data

        self.terminal.take = counted
        while self._on and (self.pull_after is None or self.heard < self.pull_after):
            serve_once(self.board, self.terminal, 0.002)
        self.terminal.close()
        self.board.off()

    def unplug(self):
        """Cable out, and with it the power."""
        self._on = False
        self._thread.join()


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.setattr(reach, "HEARD_S", 0.3)
    made = Desk(tmp_path)
    yield made
    made.unplug()


def install(desk, monkeypatch, mark, *more):
    monkeypatch.setattr(putting, "all_files", lambda kind, cooker: tiny(mark))
    return cli.run(["board", "install", "--port", desk.port, *more])


def test_a_cable_pulled_amid_an_install_is_told_in_one_line_and_the_old_controller_runs(
        desk, monkeypatch, capsys):
    assert install(desk, monkeypatch, "one") == 0
    monkeypatch.setattr(reach, "BACK_S", 0.2)
    desk.pull_after = desk.heard + 3_000  # among the files
    capsys.readouterr()
    assert install(desk, monkeypatch, "two") == 3
    said = [line for line in capsys.readouterr().err.splitlines() if line.startswith("sunhob:")]
    assert len(said) == 1 and "mend the cable and install again" in said[0]
    desk.unplug()
    desk.pull_after = None
    desk.plug()
    with installer.Dish(desk.port) as dish:
        assert dish.hello(6.0)["mark"] == "one"


def test_a_fit_goes_into_the_file_and_onto_the_board_and_is_proved_only_where_the_board_holds_it(
        desk, tmp_path, capsys):
    cooker, seen = tmp_path / "cooker.toml", tmp_path / "seen.csv"
    assert cli.run(["new", str(cooker)]) == 0
    mount = TrueMount("altaz", load_cooker(cooker).site.latitude_deg, 12.5, 0.3, -0.2, 0.0, (0.0, 0.4))
    write_csv(seen, seen_by(mount, (2.5, 4.5, 6.0, 8.5, 10.5)))
    ask = ["align", str(seen), "--port", desk.port, "--cooker", str(cooker)]
    prove = [*ask, "--masked", "--verify"]
    assert cli.run([*ask, "--write", "--install"]) == 0
    said = capsys.readouterr()
    assert f"{desk.port}: pico, MicroPython 1.27.0:" in said.err and "12.5" in said.out
    assert cli.run(["board", "install", "--port", desk.port, "--cooker", str(cooker)]) == 0
    assert "nothing had changed" in capsys.readouterr().out, "the board has the file with the corrections"
    assert cli.run(prove) == 2
    said = capsys.readouterr()
    assert "the board's clock is not set" in said.err and "does not hold" not in said.err
    edit_cooker(cooker, {"mount.north_deg": 12.0})
    assert cli.run(prove) == 2
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 1 and f"the board does not hold {cooker} as it is now; put it there first" in said[0]


def test_a_port_that_another_program_holds_and_one_that_is_not_there_are_told(desk, capsys):
    with installer.Dish(desk.port):
        assert cli.run(["dish", "status", "--port", desk.port]) == 3
        assert "another program has it open; end that one first" in capsys.readouterr().err
    assert cli.run(["board", "install", "--port", desk.port + "x"]) == 3
    said = capsys.readouterr().err.splitlines()[-1]
    assert "cannot be opened (No such file or directory); look at the cable and the name; " in said


def keys(port, *typed):
    """`board console` with a person at a terminal: (what was shown, exit code)."""
    pid, end = pty.fork()
    if pid == 0:
        os.execv(sys.executable, [sys.executable, "-m", "sunhob.cli", "board", "console", "--port", port])
    shown = b""
    for text, answer in typed:
        until = time.monotonic() + 20.0
        while answer not in shown and time.monotonic() < until:
            if select.select([end], [], [], 0.1)[0]:
                shown += os.read(end, 4096)
        os.write(end, text) if isinstance(text, bytes) else text()
    with_rest = shown
    try:
        while part := os.read(end, 4096):
            with_rest += part
    except OSError:  # the terminal closes with the program
        pass
    return with_rest, os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def test_the_console_by_hand_and_back_to_the_controller(desk, monkeypatch, capsys):
    assert install(desk, monkeypatch, "one") == 0
    shown, code = keys(desk.port, (b"print(6*7)\r", b">>> "), (b"\x1d", b"42\r\n"))
    assert code == 0 and b"Ctrl-] ends it" in shown
    with installer.Dish(desk.port) as dish:
        assert dish.hello(6.0)["mark"] == "one", "and the controller runs again"
    assert cli.run(["board", "console", "--port", desk.port]) == 2
    assert "is for a person at a terminal" in capsys.readouterr().err
    shown, code = keys(desk.port, (desk.unplug, b">>> "))
    assert code == 3 and b"lost; look at the cable" in shown and b"Traceback" not in shown
    desk.plug()


def test_the_package_installs_with_the_ecosystem_s_own_package_manager(desk, tmp_path):
    pytest.importorskip("mpremote")
    out = tmp_path / "package"
    write_package(out, KINDS["pico"], tiny("packed"), "1.2.3")
    handler = partial(http.server.SimpleHTTPRequestHandler, directory=str(out))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        url = f"http://127.0.0.1:{server.server_address[1]}/package.json"
        done = subprocess.run(
            [sys.executable, "-m", "mpremote", "connect", desk.port, "mkdir", ":data", "+", "mip", "install",
             "--target=/a", url, "+", "cp", str(out / "main.py"), ":main.py", "+", "reset"],
            capture_output=True, text=True, timeout=60, check=False)
        server.shutdown()
    assert done.returncode == 0, done.stdout + done.stderr
    with installer.Dish(desk.port) as dish:
        assert dish.hello(6.0)["mark"] == "packed"


def test_the_desk_tells_its_port_at_once_into_a_pipe_and_refuses_what_it_cannot_make(tmp_path, capsys):
    command = [sys.executable, "-m", "sunhob.cli", "bench", "desk", "--tcp", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        try:
            assert running.stdout is not None
            assert "Virtual pico on socket://localhost:" in running.stdout.readline()
        finally:
            running.terminate()
    file = tmp_path / "file"
    file.write_text("")
    for option, value, words in (("--link", tmp_path / "no" / "x", "cannot be made (No such file"),
                                 ("--flash", file, "can be no folder (File exists); give another")):
        assert cli.run(["bench", "desk", option, str(value)]) == 2
        assert f"{option} {value}: {words}" in capsys.readouterr().err
