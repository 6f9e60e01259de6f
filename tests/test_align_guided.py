"""Guided sightings over the link, against the bench's own sun and mount. Units: degrees, s, UTC.

The bench's mount (plant_geometry) and sun are written apart from the fit, the firmware and pvlib's SPA.
"""

import csv
import json
from contextlib import contextmanager
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from sunhob import cli
from sunhob.align import live as live_face
from sunhob.align.course import course, height_deg
from sunhob.align.fit import fit
from sunhob.align.guided import Guide
from sunhob.align.hands import NEAR_DEG, Hands
from sunhob.align.model import from_cooker
from sunhob.align.proof import by_board, doubt
from sunhob.align.sight import BenchSight, Enough, KeySight, Skip
from sunhob.align.sightings import read_sightings
from sunhob.board import put as putting
from sunhob.cooker_edit import edit_cooker
from sunhob.errors import UserError
from sunhob.link import Dish
from sunhob.settings import board_bytes, load_cooker
from sunhob_sim import live, scenario

BASE = scenario.load("align").base
SITE = {"latitude_deg": "21.15", "longitude_deg": "79.05", "altitude_m": "310.0", "temp_c": "29.0"}


@pytest.fixture
def bench():
    wire = live.open_port("align@03:00", speed=0.0)
    wire.cover(True)
    with Dish("bench:align", wire=wire) as dish:
        yield wire, dish, Hands(dish, wire.bench.cooker, wire.run_for)


def cooker_file(path):
    """A cooker file of the bench's own site, as the builder would have it."""
    assert cli.run(["new", str(path)]) == 0
    text = path.read_text()
    for key, value in SITE.items():
        old = next(line for line in text.splitlines() if line.startswith(key + " = "))
        text = text.replace(old, f"{key} = {value}")
    old = next(line for line in text.splitlines() if line.startswith("home_deg = 22.6"))
    path.write_text(text.replace(old, "home_deg = 19.15"))


def test_a_day_of_sightings_finds_the_mount_proves_it_and_writes_it_down(tmp_path, capsys):
    cooker, seen = tmp_path / "cooker.toml", tmp_path / "seen.csv"
    cooker_file(cooker)
    capsys.readouterr()
    ask = ["align", str(seen), "--port", "bench:align@04:30", "--masked", "--cooker", str(cooker), "--write",
           "--json", "--count", "4", "--hours", "3.5", "--proof", "5"]
    assert cli.run(ask) == 0
    told = capsys.readouterr()
    got = json.loads(told.out)
    assert got["sightings"] == 4 and got["supported"] and got["proof"]["good"]
    for name, true in (("base_north_deg", BASE.north_deg), ("base_tilt_east_deg", BASE.tilt_east_deg),
                       ("base_tilt_north_deg", BASE.tilt_north_deg), ("axis2_zero_deg", BASE.axis2_zero_deg)):
        band = got["times_for_95_percent"] * got["standard_error_deg"][name]
        assert got[name] == pytest.approx(true, abs=2.0 * band), name
        assert band < 0.5
    assert got["clock"]["sources"] == ["chip"] and abs(got["clock"]["most_off_s"]) < 2.0
    after = load_cooker(cooker)
    assert after.mount.north_deg == pytest.approx(got["base_north_deg"], abs=1e-4)
    assert "This was the bench" in told.err and "bench:" not in told.err.splitlines()[-1]
    assert got["proof"]["predicted_deg"] == pytest.approx(got["proof"]["seen_deg"], abs=0.5)
    rows = list(csv.DictReader(seen.read_text().splitlines()))
    assert len(rows) == 4 and {row["clock"] for row in rows} == {"chip"}
    assert {(row["latitude_deg"], row["longitude_deg"]) for row in rows} == {("21.15", "79.05")}
    assert not any(row["clock_off_s"].startswith("-0.0") for row in rows)
    times = [row["at_utc"] for row in rows]
    assert times == sorted(times) and times[-1][11:13] == "07" and times[0][11:13] == "04"


@pytest.fixture(scope="module")
def aligned(tmp_path_factory):
    """(sightings, cooker file with the corrections) of a guided run that was given no cooker file."""
    seen = tmp_path_factory.mktemp("aligned") / "seen.csv"
    ask = ["align", str(seen), "--port", "bench:align@04:30", "--masked", "--count", "4", "--hours", "3.5"]
    assert cli.run([*ask, "--proof", "0"]) == 0
    cooker = seen.with_suffix(".cooker.toml")
    assert board_bytes(load_cooker(cooker)) == board_bytes(scenario.cooker_of(scenario.load("align")))
    assert cli.run(["align", str(seen), "--cooker", str(cooker), "--write"]) == 0
    return seen, cooker


def test_without_a_cooker_file_the_scenario_s_is_used_told_of_and_given(tmp_path, capsys):
    seen = tmp_path / "seen.csv"
    seen.write_text("at_utc,axis1_deg,axis2_deg\n2026-03-12T04:30:00.000Z,113.9,47.8\n")
    ask = ["align", str(seen), "--port", "bench:align@03:00", "--masked", "--count", "3", "--hours", "0.5",
           "--proof", "0"]
    assert cli.run(ask) in (0, 1)
    said = capsys.readouterr().err
    assert f"the cooker of the scenario is used; it is in {tmp_path / 'seen.cooker.toml'}, for --co" in said
    assert "built-in" not in said
    (tmp_path / "seen.cooker.toml").write_text("# mine\n")
    assert cli.run(ask) in (0, 1)
    assert "seen.cooker.toml is there and is left as it is" in capsys.readouterr().err
    assert (tmp_path / "seen.cooker.toml").read_text() == "# mine\n"


def verify(aligned, capsys, at, *more):
    """(exit code, standard output, standard error) of a proof on the bench."""
    seen, cooker = aligned
    capsys.readouterr()
    code = cli.run(["align", str(seen), "--port", f"bench:align@{at}", "--masked", "--cooker", str(cooker),
                    "--verify", *more])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_what_the_board_predicts_with_the_corrections_is_what_is_seen(aligned, capsys):
    code, out, _err = verify(aligned, capsys, "08:05", "--json")
    proof = json.loads(out)["proof"]
    assert code == 0 and proof["good"] and proof["off_deg"] <= proof["limit_deg"] < 0.5
    assert proof["predicted_deg"] == pytest.approx(proof["seen_deg"], abs=0.3)
    assert proof["at_utc"] > "2026-03-12T08:05"
    assert proof["north_deg"] == pytest.approx(BASE.north_deg, abs=0.3)


def test_a_board_whose_settings_predict_something_else_falls_through(aligned, capsys, tmp_path):
    seen, cooker = aligned
    other = tmp_path / "other.toml"
    other.write_text(cooker.read_text())
    north = load_cooker(cooker).mount.north_deg
    edit_cooker(other, {"mount.north_deg": north - 1.0})
    code, out, err = verify((seen, other), capsys, "04:30")
    assert code == 1 and "by the settings on the board the dish points at azimuth" in out
    assert "sunhob: the board points 0." in err and "or the corrections are not in that file" in err


def test_north_that_was_set_at_the_dish_counts_and_is_told_as_the_cause(aligned):
    seen, file = aligned
    cooker = load_cooker(file)
    wire = live.open_port("align@03:00", speed=0.0, cooker=str(file))
    wire.cover(True)
    with Dish("bench:align", wire=wire) as dish:
        hands = Hands(dish, cooker, wire.run_for)
        now = hands.read()
        one, two = wire.sight()
        hands.turn_to((now.axes_deg[0] + one + 3.0, now.axes_deg[1] + two))  # beside the sun
        assert dish.call("set", what="north")["north_deg"] != pytest.approx(cooker.mount.north_deg, abs=1.0)
        guide = Guide(hands, cooker, BenchSight(wire), lambda words: None, lambda s, why: wire.run_for(s),
                      wire.utc)
        sightings = read_sightings(seen, cooker)
        found = fit(sightings, from_cooker(cooker), False, cooker.site.latitude_deg)
        proof = by_board(guide, found, cooker)
    assert not proof["good"] and proof["off_deg"] > 1.0
    assert "was set at the dish 0 h ago and counts in place of the file's" in doubt(proof, cooker)


def test_a_guided_run_installs_at_rest_what_it_wrote(tmp_path, capsys, monkeypatch, aligned):
    """The board of the bench cannot be installed on: another stands in for the last step."""
    seen, cooker = tmp_path / "seen.csv", tmp_path / "cooker.toml"
    seen.write_text(aligned[0].read_text())
    cooker_file(cooker)
    got, whole = [], live_face.session

    @contextmanager
    def session(url, sight, one, installed=False):
        with whole("bench:align@04:30", None, one) as face:
            hello = face.dish.hello()
            monkeypatch.setattr(face.dish, "hello", lambda timeout_s=4.0: {**hello, "holds": 1})
            yield face
            got.append(face.dish.call("status")["mode"])

    def put(port, one):
        got.append((port, one.mount.north_deg))
        return {"board": "pico", "micropython": "1.27.0", "tried": False, "seconds": 1.0,
                "hello": {"firmware": "0", "folder": "/a/"}}

    monkeypatch.setattr(live_face, "session", session)
    monkeypatch.setattr(putting, "put", put)
    ask = ["align", str(seen), "--port", "/dev/desk", "--masked", "--cooker", str(cooker), "--count", "4",
           "--proof", "5", "--write", "--install"]
    assert cli.run(ask) == 0
    said = capsys.readouterr()
    assert "Proof at" in said.out and got[0] == "PARKED"
    assert got[1] == ("/dev/desk", load_cooker(cooker).mount.north_deg)
    assert got[1][1] == pytest.approx(BASE.north_deg, abs=0.5)
    assert f"prove it: sunhob align {seen} --port /dev/desk --masked --cooker {cooker} --verify" in said.err


@pytest.mark.parametrize(("more", "words"), [
    (["--install"], "--install: puts the file with the corrections onto the board; add --write"),
    (["--install", "--write", "--cooker", "x"], "is a dish on the bench, whose board has no console"),
    (["--install", "--write", "--scale", "--cooker", "x"], "steps_per_turn must be put into the file by"),
    (["--verify"], "--verify: needs --cooker FILE"),
    (["--verify", "--write", "--cooker", "x"], "--verify: looks at what is installed; leave --write and"),
    (["--verify", "--cooker", "x"], "masked: not said"),
])
def test_asking_the_board_for_what_cannot_be_is_one_line_before_anything(tmp_path, capsys, more, words):
    assert cli.run(["align", str(tmp_path / "seen.csv"), "--port", "bench:align@03:00", *more]) == 2
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 1 and words in said[0]


def test_the_play_is_taken_up_from_the_approach_side_whatever_came_before(bench):
    _wire, _dish, hands = bench
    start = hands.read().axes_deg
    for turn in (1.0, -0.5, 0.1, -0.05, 0.0):
        wanted = (start[0] + 40.0 + turn, start[1] + 10.0 - turn)
        got = hands.turn_to(wanted)
        assert got.axes_deg == pytest.approx(wanted, abs=2 * NEAR_DEG)
        assert got.play_up == (True, True) and not got.moving


def test_the_true_shaft_stands_where_the_reading_says_once_the_play_is_up(bench):
    wire, _dish, hands = bench
    got = hands.turn_to((60.0, 40.0))
    got = hands.turn_to((59.0, 41.0))  # against the approach side of axis 1: backs off, and comes on again
    assert wire.bench.plant.axes_deg == pytest.approx(got.axes_deg, abs=0.02)  # home is found to 0.01


def test_a_base_that_stands_crooked_is_no_doubt_of_the_counts_while_it_is_sighted(bench):
    """The base is 6.4 deg off, more than the sun-direction sensor bears: each leave ends at a known park."""
    wire, dish, hands = bench
    for _ in range(3):
        hands.begin()
        hands.turn_to((99.7, 28.9))  # on the sun
        wire.run_for(20.0)
        hands.park()
        assert "place_unknown" not in str(dish.call("status"))


def test_keys_turn_skip_and_end():
    told = []
    keys = iter(["+", "d", "-", "\x1b[A", "x", "\r", "n", "q"])
    sight = KeySight(told.append, lambda: next(keys))
    assert sight.wants((0.0, 0.0)) == (3.0, 0.0)
    assert sight.wants((0.0, 0.0)) == (0.0, 1.0)
    assert sight.wants((0.0, 0.0)) is None
    with pytest.raises(Skip):
        sight.wants((0.0, 0.0))
    with pytest.raises(Enough):
        sight.wants((0.0, 0.0))


def test_keys_from_a_pipe_reach_a_sighting(tmp_path, capsys, monkeypatch):
    class Typed:
        """Turns on by what the bench's sight shows, then Enter; q at the second."""

        def __init__(self):
            self.keys = "++ddn q".replace(" ", "")
            self.at = 0

        def isatty(self):
            return False

        def read(self, _count):
            self.at += 1
            return self.keys[self.at - 1: self.at]

    monkeypatch.setattr("sys.stdin", Typed())
    ask = ["align", str(tmp_path / "seen.csv"), "--port", "bench:align@03:00", "--masked", "--sight", "keys",
           "--count", "3", "--hours", "0.5"]
    assert cli.run(ask) == 2
    told = capsys.readouterr().err
    assert "Left out" in told and "no sighting was taken" in told and "Keys:" in told


def test_sightings_kept_before_are_added_to(tmp_path, capsys):
    seen = tmp_path / "seen.csv"
    kept = ["at_utc,axis1_deg,axis2_deg", "2026-03-11T04:30:00.000Z,113.90000,47.80000",
            "2026-03-11T08:00:00.000Z,210.60000,59.90000"]
    seen.write_text("\n".join(kept) + "\n")
    ask = ["align", str(seen), "--port", "bench:align@02:45", "--masked", "--hours", "0.5", "--proof", "0"]
    assert cli.run([*ask, "--count", "3"]) in (0, 1)
    assert "beside 2 kept before" in capsys.readouterr().err
    rows = seen.read_text().splitlines()
    assert len(rows) == 4 and [row.split(",")[:3] for row in rows[:3]] == [row.split(",") for row in kept]


@pytest.mark.parametrize(("more", "words", "code"), [
    ([], "masked: not said", 2), (["--masked", "--sight", "eye"], "--sight = eye", 2),
    (["--masked", "--count", "99"], "--count", 2), (["--masked", "--cooker", "none.toml"], "none.toml", 2),
])
def test_bad_asking_is_told(tmp_path, capsys, more, words, code):
    assert cli.run(["align", str(tmp_path / "seen.csv"), "--port", "bench:align", *more]) == code
    assert words in capsys.readouterr().err


def test_a_port_that_is_not_there(tmp_path, capsys):
    assert cli.run(["align", str(tmp_path / "s.csv"), "--port", "/dev/no_such_port", "--masked"]) == 3
    assert "cannot be opened" in capsys.readouterr().err


def test_a_board_without_time_or_place_is_refused(tmp_path, capsys):
    assert cli.run(["align", str(tmp_path / "s.csv"), "--port", "bench:demo@02:30", "--masked"]) == 2
    assert "clock is not set" in capsys.readouterr().err
    assert cli.run(["align", str(tmp_path / "s.csv"), "--port", "bench:align@02:30", "--masked"]) == 2
    assert "do not know where they are" in capsys.readouterr().err


def test_the_course_spreads_over_the_sun_that_is_left(bench):
    wire, _dish, _hands = bench
    cooker = wire.bench.cooker
    moments = course(wire.utc(), 5, cooker, None, 20.0)
    assert height_deg(moments, cooker).min() >= 12.0
    gaps = {round((b - a).total_seconds()) for a, b in pairwise(moments)}
    assert max(gaps) - min(gaps) <= 1 and max(gaps) > 5400
    short = course(wire.utc(), 3, cooker, 1.0)
    assert (short[-1] - short[0]).total_seconds() <= 3600.0


def test_the_course_waits_for_the_sun_and_tells_where_there_is_none():
    cooker = load_cooker()
    night = datetime(2026, 3, 12, 20, tzinfo=UTC)
    assert course(night, 3, cooker)[0] > night
    cooker.site = cooker.site.model_copy(update={"latitude_deg": 80.0})
    with pytest.raises(UserError, match="does not come above"):
        course(datetime(2026, 12, 21, tzinfo=UTC), 3, cooker)


def test_the_bench_reads_with_scatter_and_settles_near(bench):
    wire, _dish, hands = bench
    sight = BenchSight(wire, seed=4, scatter_deg=0.0)
    sight.fresh()
    off = sight.wants(hands.read().axes_deg)
    assert off is not None and max(abs(v) for v in off) > 1.0  # parked, far from the sun
    assert off == pytest.approx(wire.sight())


def test_sightings_taken_at_another_place_are_not_fitted(tmp_path, capsys):
    seen = tmp_path / "seen.csv"
    seen.write_text("at_utc,axis1_deg,axis2_deg,latitude_deg,longitude_deg\n"
                    "2026-03-12T06:23:56Z,157.66,64.83,21.15,79.05\n2026-03-12T08:04:47Z,212.78,59.52,x,73.7\n")
    assert cli.run(["align", str(seen)]) == 2
    said = capsys.readouterr().err.splitlines()[1:]
    assert len(said) == 2 and "seen.csv:3: latitude_deg = x is no number" in said[1]
    assert ("seen.csv:2: latitude_deg = 21.15: taken there, and the site of the built-in invented cooker has "
            "24.6; give --cooker with the file of that dish") in said[0]


def test_the_same_mistake_in_many_lines_is_told_once(tmp_path, capsys):
    seen = tmp_path / "seen.csv"
    rows = "".join(f"2026-03-12T0{hour}:00:00Z,157.66,64.83,21.15,79.05\n" for hour in range(3, 9))
    seen.write_text("at_utc,axis1_deg,axis2_deg,latitude_deg,longitude_deg\n" + rows)
    assert cli.run(["align", str(seen)]) == 2
    said = [line for line in capsys.readouterr().err.splitlines() if "taken there" in line]
    assert len(said) == 1 and "seen.csv:2: latitude_deg = 21.15" in said[0]
    assert said[0].endswith("(so are lines 3, 4, 5 and 2 more)")


@pytest.mark.parametrize(("place", "words"), [
    ("nodir/seen.csv", "there is no directory"), ("adir", "cannot be read (Is a directory)"),
])
def test_a_file_that_cannot_be_kept_is_told_before_anything_moves(tmp_path, capsys, place, words):
    (tmp_path / "adir").mkdir()
    assert cli.run(["align", str(tmp_path / place), "--port", "bench:align@03:00", "--masked"]) == 2
    said = capsys.readouterr().err
    assert words in said and "going to axis" not in said


def test_a_board_that_is_set_up_for_another_place_is_not_aligned(tmp_path, capsys):
    cooker = tmp_path / "cooker.toml"
    assert cli.run(["new", str(cooker)]) == 0  # the invented site; the bench's board stands 5 deg east of it
    ask = ["align", str(tmp_path / "seen.csv"), "--port", "bench:align@03:00", "--masked", "--cooker",
           str(cooker)]
    assert cli.run(ask) == 2
    said = capsys.readouterr().err
    assert "it is set up for another place; give --cooker with its file" in said and "going to" not in said
