"""The frame of the program: exit codes, one line for each mistake, cautions (no units)."""

import json
import os
import subprocess
import sys

import pytest
import typer
from sunhob import cli
from sunhob.errors import Judged, LinkError, UserError


def test_version(capsys):
    assert cli.run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("sunhob 0")


def test_help_carries_the_cautions(capsys):
    assert cli.run(["--help"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for word in ("dark glasses", "never stand in the beam", "fire", "codes", "no certified safety"):
        assert word in shown


@pytest.mark.parametrize(
    "arguments",
    [["chek"], ["check", "--nope"], ["new"], ["check", "no-such.toml"], ["check", "a", "b"], ["new", "."]],
)
def test_bad_use_is_one_line_and_exit_2(arguments, capsys):
    assert cli.run(arguments) == 2
    told = capsys.readouterr()
    assert told.out == "" and told.err.startswith("sunhob: ") and told.err.count("\n") == 1


def test_every_command_is_there(capsys):
    assert cli.run(["--help"]) == 0
    shown = capsys.readouterr().out
    for command in ("demo", "new", "check", "sun", "table", "bench", "dish"):
        assert f" {command} " in shown
        assert cli.run([command, "--help"]) == 0


def test_a_plain_command_loads_no_more_than_it_needs():
    code = "import sys; from sunhob import cli; cli.run(['--version']); print('pvlib' in sys.modules)"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.stdout.endswith("False\n")


def test_nothing_asked_shows_help_and_exit_2(capsys):
    assert cli.run([]) == 2
    assert "check" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (UserError("field x"), 2),
        (LinkError("no board"), 3),
        (Judged("falls short"), 1),
        (KeyboardInterrupt(), 130),
        (typer.Abort(), 130),
        (PermissionError(13, "Permission denied", "/x"), 2),
        (typer.BadParameter("bad"), 2),
        (typer.Exit(1), 1),
        (typer.Exit(0), 0),
    ],
)
def test_exit_codes(error, code, monkeypatch, capsys):
    app = typer.Typer(callback=lambda: None)

    @app.command()
    def fail():
        raise error

    monkeypatch.setattr(cli, "make_app", lambda commands: app)
    assert cli.run(["fail"]) == code
    assert "Traceback" not in capsys.readouterr().err


def test_a_bug_is_not_hidden(monkeypatch):
    app = typer.Typer(callback=lambda: None)

    @app.command()
    def fail():
        raise ZeroDivisionError

    monkeypatch.setattr(cli, "make_app", lambda commands: app)
    with pytest.raises(ZeroDivisionError):
        cli.run(["fail"])


def test_new_then_check(tmp_path, capsys):
    path = str(tmp_path / "cooker.toml")
    assert cli.run(["new", path]) == 0
    assert cli.run(["new", path]) == 2
    assert cli.run(["new", path, "--force"]) == 0
    capsys.readouterr()
    assert cli.run(["check", path, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["good"] and not told["invented"] and told["settings"]["dish"]["focal_length_m"] == 0.55
    assert cli.run(["check", path]) == 0


def test_check_without_a_file_says_the_cooker_is_invented(capsys):
    assert cli.run(["check"]) == 0
    assert "invented" in capsys.readouterr().out


def test_check_tells_every_mistake(tmp_path, capsys):
    path = tmp_path / "cooker.toml"
    path.write_text("[site]\nlatitude_deg = 99\n[dish]\nfocal_length_m = true\n")
    assert cli.run(["check", str(path), "--json"]) == 2
    told = capsys.readouterr()
    assert len(json.loads(told.out)["mistakes"]) == told.err.count("\n") == 5


def test_check_judges_the_clear_angle(tmp_path, capsys):
    path = tmp_path / "cooker.toml"
    assert cli.run(["new", str(path)]) == 0
    path.write_text(path.read_text().replace("pot_clear_deg = 20.0", "pot_clear_deg = 8.0"))
    assert cli.run(["check", str(path)]) == 1
    assert "dish.pot_clear_deg = 8.0 deg" in capsys.readouterr().err


def test_check_tells_the_traced_angles_beside_the_declared(capsys):
    assert cli.run(["check", "--json"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert 15.0 < result["traced"]["pot_clear_deg"] < 20.0  # declared 20
    assert result["traced"]["guard_plate_m"] == 0.0
    assert any("dish.loose_clear_deg = 75.0 deg" in note for note in result["notes"])


def test_check_refuses_little_heat_without_a_guard_plate(tmp_path, capsys):
    path = tmp_path / "cooker.toml"
    assert cli.run(["new", str(path)]) == 0
    path.write_text(path.read_text().replace("least_percent = 40.0", "least_percent = 15.0"))
    assert cli.run(["check", str(path)]) == 2
    assert "heat.least_percent = 15.0 percent is under 40 percent" in capsys.readouterr().err


def test_as_a_module_and_with_a_closed_pipe():
    run = subprocess.run([sys.executable, "-m", "sunhob", "--version"], capture_output=True, text=True)
    assert run.returncode == 0 and run.stderr == ""
    read, write = os.pipe()
    os.close(read)
    command = [sys.executable, "-m", "sunhob", "check", "--json"]
    run = subprocess.run(command, stdout=write, stderr=subprocess.PIPE)
    os.close(write)
    assert run.returncode == 141 and run.stderr == b""
