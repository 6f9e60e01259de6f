"""What is compiled for the board: rows without words for people, everything else unchanged."""

from pathlib import Path

import pytest
import sunhob_board
from sunhob.firmware_build import board_source
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


@pytest.mark.parametrize("path", [p for p in sorted(FOLDER.rglob("*.py")) if p.parent.name != "declared"])
def test_all_else_is_compiled_as_it_stands(path):
    assert board_source(path) == path.read_bytes()
