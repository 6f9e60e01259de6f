"""A cooker file is judged whole: every mistake told once, with its line (units in the names)."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob.cooker_writer import cooker_text, write_new
from sunhob.errors import UserError
from sunhob.settings import (
    MUST_BE_GIVEN,
    ROWS,
    board_bytes,
    board_settings,
    cooker_from_text,
    load_cooker,
)

NAME = Path("invented.toml")


def mistakes(text):
    with pytest.raises(UserError) as caught:
        cooker_from_text(text, NAME)
    return str(caught.value).splitlines()


def with_values(**changed):
    return cooker_text({key.replace("__", "."): value for key, value in changed.items()})


def line_of(text, key):
    section, name = key.split(".")
    inside = False
    for number, line in enumerate(text.split("\n"), start=1):
        if line.startswith("["):
            inside = line == f"[{section}]"
        if inside and line.startswith(name + " ="):
            return number
    raise AssertionError(key)


def test_written_file_is_the_invented_cooker():
    read = cooker_from_text(cooker_text(), NAME)
    assert read.as_dict() == load_cooker().as_dict()
    assert read.left_out == [] and not read.invented and load_cooker().invented


def test_written_file_comments_every_value():
    text = cooker_text()
    for key, row in ROWS.items():
        assert text.split("\n")[line_of(text, key) - 2].startswith(f"# {row[6]} Range: "), key


def numeric_keys():
    return [key for key, row in ROWS.items() if row[1] in ("float", "int", "angle")]


@pytest.mark.parametrize("key", numeric_keys())
@pytest.mark.parametrize("side", [3, 4])
def test_each_limit_is_told_on_its_line(key, side):
    beyond = ROWS[key][side] + (1 if side == 4 else -1)
    text = cooker_text({key: beyond})
    told = mistakes(text)
    assert len(told) == 1
    word = "above" if side == 4 else "below"
    where = f"invented.toml:{line_of(text, key)}: {key}"
    assert told[0].startswith(f"{where} = {beyond!r} is {word} {ROWS[key][side]}")
    assert "; give " in told[0]


@pytest.mark.parametrize("key", list(ROWS))
@pytest.mark.parametrize("wrong", ["[1]", "{a = 1}", "1979-05-27", "nan", "-inf"])
def test_wrong_kinds_are_told(key, wrong):
    text = cooker_text()
    lines = text.split("\n")
    at = line_of(text, key)
    lines[at - 1] = f"{key.split('.')[1]} = {wrong}"
    told = mistakes("\n".join(lines))
    assert told[0].startswith(f"invented.toml:{at}: {key} = ")


@pytest.mark.parametrize("key", MUST_BE_GIVEN)
def test_what_must_be_given(key):
    lines = cooker_text().split("\n")
    del lines[line_of(cooker_text(), key) - 1]
    assert f"{key} is missing" in mistakes("\n".join(lines))[0]


def test_all_mistakes_at_once_in_the_order_of_lines():
    text = cooker_text({"site.latitude_deg": 99.0, "pot.diameter_m": 7.0, "mount.kind": "fork"})
    told = mistakes(text + "\n[mont]\nx = 1\n")
    assert [line.split(": ")[1].split(" ")[0] for line in told] == [
        "site.latitude_deg", "pot.diameter_m", "mount.kind", "mont",
    ]
    assert "did you mean mount?" in told[-1]


def test_unknown_setting_suggests_the_nearest():
    text = cooker_text().replace("backlash_deg =", "backlsh_deg =", 1)
    assert mistakes(text) == [
        f"invented.toml:{text.split(chr(10)).index('backlsh_deg = 0.2') + 1}: "
        "axis1.backlsh_deg is not a setting; did you mean backlash_deg?"
    ]


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"axis1__low_deg": 30.0, "axis1__high_deg": 20.0}, "axis1.low_deg"),
        ({"axis1__home_deg": -90.0}, "axis1.home_deg"),
        ({"axis2__home_deg": 93.0}, "axis2.home_deg"),
        ({"pot__diameter_m": 0.5, "dish__aperture_diameter_m": 0.4}, "pot.diameter_m"),
        ({"dish__loose_clear_deg": 20.0}, "dish.loose_clear_deg"),
        ({"interlock__light_back_w_m2": 200.0}, "interlock.light_back_w_m2"),
        ({"sensor__beam_w_m2_full": 500.0, "interlock__light_back_w_m2": 500.0}, "sensor.beam_w_m2_full"),
        ({"tracking__deadband_deg": 1.5}, "tracking.deadband_deg"),
        ({"axis2__steps_per_turn": 4000}, "axis2.steps_per_turn"),
        ({"axis2__drive": "actuator", "axis2__triangle_deg": 100.0, "axis2__pulses_per_mm": 2.0},
         "axis2.triangle_deg"),  # a dead point inside the travel
        ({"axis2__drive": "actuator", "axis2__pulses_per_mm": 0.1}, "axis2.pulses_per_mm"),
        ({"axis1__drive": "motor", "axis1__speed_deg_s": 20.0}, "axis1.speed_deg_s"),
        ({"axis1__drive": "motor", "axis1__channels": 2, "axis1__pulses_per_turn": 3600.0,
          "axis1__speed_deg_s": 4.0, "axis2__drive": "motor", "axis2__pulses_per_turn": 7200.0},
         "axis2.channels"),
        ({"axis1__speed_deg_s": 20.0, "axis1__steps_per_turn": 4000000}, "axis1.speed_deg_s"),
        ({"site__timezone": "Nowhere/Else"}, "site.timezone"),
        ({"axis2__high_deg": 20.0, "axis2__home_deg": 10.0}, "axis2.high_deg"),
        ({"axis2__low_deg": 30.0, "axis2__home_deg": 31.0}, "axis2.low_deg"),
        ({"axis1__low_deg": 10.0, "axis1__home_deg": 10.0, "axis1__high_deg": 350.0}, "axis1.high_deg"),
        ({"site__latitude_deg": -24.6, "axis1__high_deg": 170.0}, "axis1.high_deg"),
        ({"mount__kind": "polar", "axis2__high_deg": 80.0}, "axis2.high_deg"),
    ],
)
def test_values_that_do_not_go_together(values, key):
    told = mistakes(with_values(**values))
    assert len(told) == 1 and f": {key} " in told[0] and "; " in told[0], told


def test_park_words():
    assert "admits no park" in mistakes(with_values(axis2__high_deg=20.0))[0]
    cooker_from_text(with_values(site__latitude_deg=-24.6), NAME)
    cooker_from_text(with_values(mount__kind="polar"), NAME)


def test_a_short_file_takes_the_defaults_and_says_so():
    text = (
        "site = {latitude_deg = -33, longitude_deg = 18.5}\n"
        "[dish]\naperture_diameter_m = 1.2\nfocal_length_m = 0.5\n[pot]\ndiameter_m = 0.2\n"
    )
    cooker = cooker_from_text(text, NAME)
    assert cooker.value("site.latitude_deg") == -33 and "cook.warn_s" in cooker.left_out
    assert board_settings(cooker).site_latitude_udeg == -33_000_000


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_plainly(text):
    try:
        cooker_from_text(text, NAME)
    except UserError as error:
        assert str(error)


@given(st.text(max_size=60).filter(lambda t: all(0x20 <= ord(c) < 0xD800 for c in t)))
def test_names_come_back_as_written(name):
    assert tomllib.loads(cooker_text({"site.name": name}))["site"]["name"] == name


@pytest.mark.parametrize("raw", [b"\xff\xfe", b"a" * 300_000, b"[site\n", b"x = 1\nx = 2\n", b"[" * 5000])
def test_unreadable_files(tmp_path, raw):
    path = tmp_path / "c.toml"
    path.write_bytes(raw)
    with pytest.raises(UserError) as caught:
        load_cooker(path)
    assert str(caught.value).startswith(str(path)) and "\n" not in str(caught.value)


def test_windows_line_ends_and_byte_order_mark(tmp_path):
    path = tmp_path / "c.toml"
    path.write_bytes(b"\xef\xbb\xbf" + cooker_text().replace("\n", "\r\n").encode())
    assert load_cooker(path).as_dict() == load_cooker().as_dict()


def test_new_writes_whole_or_not_at_all(tmp_path):
    path = tmp_path / "c.toml"
    write_new(path, "one")
    with pytest.raises(UserError, match="--force"):
        write_new(path, "two")
    assert path.read_text() == "one"
    write_new(path, "two", force=True)
    assert path.read_text() == "two" and [p.name for p in tmp_path.iterdir()] == ["c.toml"]


def test_another_pot_wants_another_heat_table():
    wide = cooker_from_text(with_values(pot__diameter_m=0.4), NAME)
    assert board_settings(wide).optics_fingerprint != board_settings(load_cooker()).optics_fingerprint
    assert board_bytes(wide) != board_bytes(load_cooker())
