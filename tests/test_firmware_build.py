"""What is compiled for the board: rows without words for people, the parts this cooker needs, names kept."""

import ast
import os
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
import sunhob_board
from sunhob.board.image import KINDS
from sunhob.errors import UserError
from sunhob.firmware_build import OPTIONAL, board_source, bundled, unused_parts, what_is
from sunhob.firmware_rows import board_text, short_names, with_short_names
from sunhob.settings import load_cooker
from sunhob_board.core.settings import fingerprint
from sunhob_board.declared import events, interlocks, methods, settings
from sunhob_board.link.rpc import table_id

from .firmware_size import BUDGET, BUILDS, builds

FOLDER = Path(next(iter(sunhob_board.__path__)))


def stripped(name, bundled=False):
    space = {"__name__": "stripped"}
    text = board_source(FOLDER / "declared" / f"{name}.py").decode()
    exec(compile(with_short_names(text) if bundled else text, name, "exec"), space)
    return space


def test_settings_keep_what_the_board_reads_and_their_fingerprint():
    got = stripped("settings")
    rows = [[*row[:3], list(row[3]) if row[1] == "choice" else row[3], row[4]]
            for row in settings.board_rows()]
    assert [list(row) for row in got["board_rows"]()] == rows
    assert [got["board_default"](row) for row in got["board_rows"]()] == list(map(
        settings.board_default, settings.board_rows()))
    assert list(got["board_names"]()) == settings.board_names()
    assert got["fingerprint"](None) == fingerprint() == settings.fingerprint(zlib.crc32)
    assert not [word for word in got.values() if isinstance(word, str) and "elevation" in word]


def test_in_a_program_settings_are_called_by_their_rows():
    names = list(zip(stripped("settings", True)["board_names"](), settings.board_names(), strict=True))
    short = short_names()
    assert [pair[0] for pair, _long in names] == [short.get(long[0], long[0]) for _pair, long in names]
    angles = [(pair, long) for pair, long in names if long[0] != long[1]]
    assert len(angles) == 2 and all(pair[1] == short[long[1]] for pair, long in angles)
    assert len(set(short.values())) == len(short) > 60
    assert what_is(short["heat_trim"]) == ["setting heat_trim"]
    rows = [(row[0], *(short.get(cell, cell) for cell in row[1:3]), *row[3:5]) for row in interlocks.ROWS]
    assert list(stripped("interlocks", True)["ROWS"]) == rows


def test_a_setting_is_asked_for_by_its_short_name_and_what_only_reads_like_it_is_not():
    short = short_names()["heat_trim"]
    text = 'self.s.heat_trim == "x.heat_trim"  # .heat_trim\nheat_trim = s.axis1_drive\n'
    want = f'self.s.{short} == "x.heat_trim"  # .heat_trim\nheat_trim = s.axis1_drive\n'
    assert with_short_names(text) == want


def test_interlocks_and_events_keep_names_order_and_actions():
    got = stripped("interlocks")
    assert list(got["ROWS"]) == [row[:5] for row in interlocks.ROWS] and got["INDEX"] == interlocks.INDEX
    assert {row[4] for row in got["ROWS"]} == {0, 1, interlocks.STAYS}
    assert got["FROM_AFAR"] == interlocks.FROM_AFAR
    got = stripped("events")
    assert got["CODES"] == events.CODES
    assert [row[0] for row in got["EVENTS"]] == [row[0] for row in events.EVENTS]


def test_tables_of_rows_are_numbers_on_the_board(made):
    text = "\n".join(made.texts.values())
    assert text.count("park_moved") == text.count("wind_sensor") == 1  # in the rows
    told = {one for found in made.told.values() for one in found}
    assert not {"declared/interlocks: INDEX", "declared/events: CODES", "core/app: _C"} & told


SPOILT = {
    "a comma": ("settings", '("altaz", "polar")', '("altaz", "po,lar")', "mount.kind: a comma"),
    "two axes": ("settings", '".coast_s", "float", 0.5, 0.1', '".coast_s", "float", 0.5, low',
                 "the two axes have different rows"),
    "an action": ("interlocks", "HOLD = 6", "HOLD = 8", "stop_chain: actions are 0 to 7"),
    "a setting": ("interlocks", '"interlock_wind_calm_s"', '"wind_calm_s"', "wind: no setting of the board"),
}


@pytest.mark.parametrize("what", SPOILT)
def test_a_row_that_cannot_be_told_to_a_board_is_refused(what):
    module, old, new, words = SPOILT[what]
    text = (FOLDER / "declared" / f"{module}.py").read_text()
    assert text.count(old) == 1 and board_text(f"{module}.py", text)
    with pytest.raises(UserError, match=words):
        board_text(f"{module}.py", text.replace(old, new))


def test_methods_keep_their_parameters_and_their_id():
    got = stripped("methods")
    assert list(got["METHODS"]) == [row[:2] for row in methods.METHODS]
    assert table_id(got["METHODS"]) == table_id(methods.METHODS)


@pytest.fixture(scope="module", params=list(KINDS))
def made(request):
    return bundled(request.param)


def test_every_part_but_those_always_loaded_is_left_out_where_a_cooker_has_no_use_for_it(made):
    board = next(part for part, got in made.modules.items() if "boards/common" in got)
    assert set(made.texts) - {"main", "core/app", "boards/pick", board} <= set(OPTIONAL)
    assert board.removeprefix("boards/") in KINDS
    always = (*made.modules["core/app"], *made.modules[board])
    assert not [one for one in always if "oled" in one or "stepper" in one]


def test_every_optional_part_is_one_of_some_board():
    assert set().union(*(bundled(kind).texts for kind in KINDS)) >= set(OPTIONAL)


def changed(section, **values):
    cooker = load_cooker()
    setattr(cooker, section, getattr(cooker, section).model_copy(update=values))
    return cooker


@pytest.mark.parametrize(("section", "values", "part"), [
    ("axis1", {"drive": "motor"}, "mount/pulse_axis"),
    ("axis2", {"drive": "actuator"}, "drivers/bridge_pulse"),
    ("axis2", {"drive": "hand"}, "core/season"), ("cook", {"display": True}, "core/page"),
    ("cook", {"display": True}, "drivers/oled_ssd1306"),
    ("sensor", {"wind_hz_per_m_s": 1.0}, "drivers/wind_pcf8583"),
    ("sensor", {"axis2_tilt": True}, "drivers/accel_lis3dh"),
    ("sensor", {"axis1_encoder": True}, "drivers/encoder_as5600"),
])
def test_a_part_is_there_for_the_cooker_that_has_it(section, values, part):
    assert part in unused_parts(load_cooker()) and part not in unused_parts(changed(section, **values))


def test_without_the_sun_sensor_its_parts_are_left_out():
    assert not {"drivers/sun_ads1115", "safety/sun_sight"} & unused_parts(load_cooker())
    assert {"drivers/sun_ads1115", "safety/sun_sight"} <= unused_parts(changed("sensor", sun=False))
    assert "drivers/sun_ads1115" not in unused_parts(changed("sensor", sun=False, supply_ratio=5.0))


def test_without_a_stepper_its_pulses_are_left_out():
    cooker = changed("axis1", drive="motor")
    assert "drivers/stepper_pio" not in unused_parts(cooker)
    cooker.axis2 = cooker.axis1
    assert "drivers/stepper_pio" in unused_parts(cooker)


def test_no_name_of_a_setting_and_none_that_the_loader_knows_is_changed(made):
    kept = {settings.board_name(row[0], row[1]) for row in settings.board_rows()}
    loader = ast.parse((FOLDER / "loader.py").read_bytes())
    kept |= {node.attr for node in ast.walk(loader) if isinstance(node, ast.Attribute)}
    told = [one for found in made.told.values() for one in found]
    real = {one[1:].partition(" of ")[0] for one in told if one.startswith(".")}
    assert len(real) > 300 and not real & (kept | {"cycle", "do_status", "do_hello"})


@pytest.mark.parametrize("board", KINDS)
def test_each_build_keeps_to_the_budget(board):
    made = builds(board)
    for build in BUILDS:
        assert made[build] <= BUDGET, build


def test_the_same_sources_give_the_same_files_on_every_computer(tmp_path):
    """Else a second computer would send a board all its code anew. The seed turns the order of sets."""
    told = "from sunhob.firmware_build import bundled; import json; print(json.dumps(bundled('pico').texts))"
    made = []
    for seed in ("1", "2"):
        env = {**os.environ, "PYTHONHASHSEED": seed, "SUNHOB_CACHE": str(tmp_path / seed)}
        made.append(subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True,
                                   env=env).stdout)
    assert made[0] == made[1] and len(made[0]) > 100_000
