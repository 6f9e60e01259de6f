"""Command `optics`: its JSON, its words and its refusals; what is kept on disk. Units: m, deg, W."""

import json
import math

import numpy as np
import pytest
import typer
from sunhob.cli_optics import optics_command
from sunhob.errors import UserError
from sunhob.optics import intercept as module
from sunhob.optics.geometry import Optics
from sunhob.optics.intercept import cached_intercept, intercept
from typer.testing import CliRunner

app = typer.Typer()
app.command("optics")(optics_command)
SMALL = ("--rays", "256", "--lag", "0:30:10", "--elevation", "20,60", "--direction", "0,90,180,270")
POT = Optics(aperture_diameter_m=1.4, focal_length_m=0.55, pot_diameter_m=0.24, pot_height_m=0.16)


def run(*words):
    return CliRunner().invoke(app, list(words))


@pytest.fixture(scope="module")
def answer():
    """The JSON of a small run on the invented cooker, which it says to be."""
    result = run(*SMALL, "--date", "2026-03-12", "--json")
    assert "invented" in result.stderr
    return json.loads(result.stdout)


def test_json_has_the_promised_keys(answer):
    assert answer["aperture_m2"] == pytest.approx(math.pi / 4 * answer["aperture_diameter_m"] ** 2)
    assert answer["rim_angle_deg"] == pytest.approx(64.94, abs=0.01)
    assert set(answer["pot"]) >= {"diameter_m", "height_m", "bottom_above_focus_m"}
    assert answer.keys() >= {"focal_length_m", "slope_error_mrad", "specularity_mrad", "peak_concentration",
                             "pot_clear_deg", "rays", "wall_s", "full_heat_w_at_1000"}
    grid = answer["intercept"]
    assert grid["lag_deg"] == [0.0, 10.0, 20.0, 30.0]
    assert (grid["elevation_deg"], grid["direction_deg"]) == ([20.0, 60.0], [0.0, 90.0, 180.0, 270.0])
    for name in ("fraction", "absorbed", "stray", "over_lid", "standard_error", "shaded"):
        assert np.shape(grid[name]) == (4, 2, 4), name
    assert 0.9 < grid["fraction"][0][0][0] < 1.0
    assert max(max(row) for row in grid["fraction"][3]) < 0.01
    assert 10.0 < answer["pot_clear_deg"] < 30.0
    watts = 1000.0 * answer["aperture_m2"] * answer["reflectance"] * max(grid["absorbed"][0])[0]
    assert answer["full_heat_w_at_1000"] == pytest.approx(watts, rel=1e-3)
    assert answer["rays"] >= 256


def test_json_tells_what_is_not_on_the_pot(answer):
    assert 80.0 < answer["loose_clear_deg"] <= 90.0
    assert answer["standoff_m"]["eye"] == pytest.approx(1.4 * 58.0, rel=0.02)  # 58 m a metre of full mirror
    assert 0.5 < answer["standoff_m"]["skin"] < answer["standoff_m"]["skin_no_discomfort"] < 2.1
    assert 0.5 * 0.55 < answer["guarded_full_heat_radius_m"] <= answer["guarded_radius_m"] < 0.55
    assert sum(answer["spill"]["share"].values()) == pytest.approx(
        math.cos(math.radians(answer["spill"]["lag_deg"])), abs=1e-4
    )
    sizes = [row["diameter_m"] for row in answer["guard_plate"]["sizes"]]
    assert sizes == sorted(sizes)
    noon = [row for row in answer["walk_off"] if row["start_utc"] == "2026-03-12T07:05:12Z"]  # 73.7 deg east
    assert noon[0]["lag_deg"] == 0.0 and 10.0 < noon[1]["lag_deg"] < 13.0
    assert noon[0]["below_5_percent_min"] > noon[1]["below_5_percent_min"] > 0.0
    assert noon[0]["below_1_percent_min"] < noon[0]["loose_ends_min"]
    assert noon[0]["back_nearest_deg"] < 0.4


def test_plain_output_tells_heat_and_error_and_cautions(tmp_path):
    picture = tmp_path / "optics.png"
    text = run(*SMALL, "--plot", str(picture)).stdout
    assert "full heat" in text and "standard error" in text and "rim angle 64.9" in text
    for word in ("dark glasses", "into the beam", "fire", "Guarded volume", "Mount dead", "guard plate"):
        assert word in text, word
    assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--lag", "0:x"), "--lag '0:x'"),
        (("--lag", "0:40:0"), "--lag '0:40:0'"),
        (("--lag", "0:1e9:0.001"), "--lag"),
        (("--elevation", "20,,30"), "--elevation"),
        (("--lag", "5,4"), "lag grid"),
        (("--direction", "0,360"), "direction grid"),
        (("--cooker", "no_such.toml"), "no_such.toml"),
        (("--date", "12.3.2026"), "--date '12.3.2026'"),
    ],
)
def test_refusals_are_one_line(words, told):
    error = run(*words).exception
    assert isinstance(error, UserError)
    assert told in str(error) and "\n" not in str(error)


def test_clear_angle_lies_where_the_pot_gets_a_hundredth():
    found = intercept(POT, range(0, 31, 3), [30.0], [0.0, 180.0], 1024, jobs=1)
    clear = found.pot_clear_deg
    fine = intercept(POT, [clear - 1.0, clear, clear + 1.0], [30.0], [0.0, 180.0], 4096, jobs=1)
    most = fine.fraction.max(axis=(1, 2))
    assert most[0] > 0.01 > most[2]
    assert intercept(POT, [0.0, 3.0], [30.0], [0.0], 256, jobs=1).pot_clear_deg is None


@pytest.fixture
def small_cache(tmp_path, monkeypatch):
    """(folder, list that grows by one for each trace made), with a grid of eight points."""
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path))
    monkeypatch.setattr(module, "LAGS_DEG", (0, 10))
    monkeypatch.setattr(module, "ELEVATIONS_DEG", (30, 60))
    monkeypatch.setattr(module, "DIRECTIONS_DEG", (0, 180))
    traced = []
    run_all = module._run
    monkeypatch.setattr(module, "_run", lambda *work: traced.append(1) or run_all(*work))
    return tmp_path, traced


def test_trace_is_kept_and_taken_again(small_cache):
    folder, traced = small_cache
    first, again = cached_intercept(POT, rays=256), cached_intercept(POT, rays=256)
    assert len(traced) == 1
    np.testing.assert_array_equal(first.fraction, again.fraction)
    np.testing.assert_array_equal(first.standard_error, again.standard_error)
    assert (again.rays, again.seed, again.optics) == (first.rays, first.seed, POT)
    cached_intercept(POT.model_copy(update={"reflectance": 0.5}), rays=256)
    cached_intercept(POT, rays=256, seed=2)
    assert len(traced) == 3
    assert len(list((folder / "optics").iterdir())) == 3


@pytest.mark.parametrize("keep", [0, 1, 100, -1])
def test_half_written_file_is_traced_anew(small_cache, keep):
    folder, traced = small_cache
    first = cached_intercept(POT, rays=256)
    (file,) = (folder / "optics").iterdir()
    file.write_bytes(file.read_bytes()[:keep])
    np.testing.assert_array_equal(cached_intercept(POT, rays=256).fraction, first.fraction)
    assert len(traced) == 2
    cached_intercept(POT, rays=256)
    assert len(traced) == 2


def test_bit_flipped_file_is_traced_anew(small_cache):
    folder, _ = small_cache
    first = cached_intercept(POT, rays=256)
    (file,) = (folder / "optics").iterdir()
    data = bytearray(file.read_bytes())
    data[len(data) // 3] ^= 0x10
    file.write_bytes(data)
    np.testing.assert_array_equal(cached_intercept(POT, rays=256).fraction, first.fraction)


def test_place_that_can_not_be_written_does_no_harm(small_cache, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("SUNHOB_CACHE", str(tmp_path / "file"))
    assert cached_intercept(POT, rays=256).fraction[0, 0, 0] > 0.9
