"""What is compiled for the board: rows without words for people, private names short, public ones kept."""

import ast
import re
from pathlib import Path

import pytest
import sunhob_board
from sunhob.firmware_build import board_source
from sunhob.firmware_names import private, short_names
from sunhob_board.core.settings import fingerprint
from sunhob_board.declared import events, interlocks, methods, settings
from sunhob_board.link.rpc import table_id

FOLDER = Path(next(iter(sunhob_board.__path__)))


def stripped(name):
    space = {"__name__": "stripped"}
    exec(compile(board_source(FOLDER / "declared" / f"{name}.py"), name, "exec"), space)
    return space


def test_settings_keep_what_the_board_reads_and_their_fingerprint():
    got = stripped("settings")
    assert [row[:6] for row in got["board_rows"]()] == [row[:6] for row in settings.board_rows()]
    assert got["table_text"]() == settings.table_text()
    assert len(got["SETTINGS"]) == len(settings.board_rows())
    assert not any(row[6] for row in got["SETTINGS"])
    assert fingerprint()  # the board's own module makes the same text


def test_interlocks_and_events_keep_names_order_and_actions():
    got = stripped("interlocks")
    assert [row[:5] for row in got["ROWS"]] == [row[:5] for row in interlocks.ROWS]
    assert got["INDEX"] == interlocks.INDEX and not any("".join(row[5:]) for row in got["ROWS"])
    assert stripped("events")["CODES"] == events.CODES


def test_methods_keep_their_parameters_and_their_id():
    got = stripped("methods")
    assert [row[:2] for row in got["METHODS"]] == [row[:2] for row in methods.METHODS]
    assert table_id(got["METHODS"]) == table_id(methods.METHODS)
    assert not any(row[3] for row in got["METHODS"])


def names(tree):
    return {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)} | {
        n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.ClassDef)}


@pytest.mark.parametrize("path", sorted(FOLDER.rglob("*.py")))
def test_public_names_stay_and_private_ones_are_short(path):
    before, after = ast.parse(path.read_bytes()), ast.parse(board_source(path))
    assert {n for n in names(before) if not private(n)} == {n for n in names(after) if not private(n)}
    short = set(short_names(FOLDER).values())
    if path.name != "stepper_pio.py":
        assert all(len(n) <= 4 for n in names(after) if private(n) and n in short)


def test_every_short_name_stands_for_one_name_and_for_none_that_is_there():
    found = short_names(FOLDER)
    assert len(set(found.values())) == len(found) > 100
    everywhere = "\n".join(p.read_text() for p in FOLDER.rglob("*.py"))
    assert not [short for short in found.values() if re.search(rf"\b{short}\b", everywhere)]


def test_private_numbers_become_constants_and_others_do_not(tmp_path):
    folder = tmp_path / "sunhob_board"
    folder.mkdir()
    path = folder / "one.py"
    path.write_text("_A = 3 * 7\n_B, _C = range(2)\n_D = 1.5\n_count = 0\nE = 4\n\n"
                    "def f():\n    global _count\n    _count += _A\n    return _C\n")
    space = {"const": lambda value: value}
    text = board_source(path).decode()
    exec(text, space)
    assert text.count("const(") == 3 and space["E"] == 4 and space["f"]() == 1


def test_a_private_number_that_another_file_reads_stays_a_name(tmp_path):
    folder = tmp_path / "sunhob_board"
    folder.mkdir()
    (folder / "one.py").write_text("_LIMIT = 5\n")
    (folder / "two.py").write_text("from . import one\n\n\ndef f():\n    return one._LIMIT\n")
    assert b"const" not in board_source(folder / "one.py")
