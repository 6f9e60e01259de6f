"""Hourly years and measured days. Units: W/m2, seconds, degrees."""

import subprocess
from datetime import UTC, datetime

import numpy as np
import pytest
from sunhob.errors import UserError
from sunhob_sim import weather
from sunhob_sim.sky import Sky, spa_angles

JUNE = datetime(2025, 6, 10, tzinfo=UTC)


@pytest.mark.parametrize("name", weather.names("hourly"))
def test_hourly_year_has_its_light_when_the_sun_is_up(name):
    got = weather.series("hourly", name, JUNE)
    assert len(got.unix_s) == 8760
    assert np.all(np.diff(got.unix_s) > 0)
    assert datetime.fromtimestamp(got.unix_s[100], UTC).year == 2025
    _, elevation = spa_angles(got.site, got.unix_s)
    assert np.all(got.dni_w_m2[elevation < -8.0] == 0.0)
    # of the light of the whole year hardly any comes with the sun down: clock and zone are right
    assert got.ghi_w_m2[elevation < -1.0].sum() < 0.003 * got.ghi_w_m2.sum()
    assert 600 < got.dni_w_m2.max() < 1100


def test_a_day_of_the_hourly_year_shines_on_the_bench():
    got = weather.series("hourly", "greensboro", JUNE)
    sky = Sky(got.site, JUNE.timestamp(), 86400.0, got)
    assert sky.beam(np.arange(0, 86400.0, 60)).max() > 300.0
    assert sky.beam_w_m2(6 * 3600.0) == 0.0  # one in the morning there


def test_unknown_name_says_which_there_are():
    with pytest.raises(UserError, match="give one of greensboro, sand_point"):
        weather.series("hourly", "nowhere", JUNE)


def test_offline_is_one_plain_line(tmp_path, monkeypatch):
    def refuse(*_args, **_how):
        return subprocess.CompletedProcess([], 1, "", "ERROR: no route\n")

    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(weather.subprocess, "run", refuse)
    with pytest.raises(UserError, match=r"could not fetch.*no route.*go online once") as told:
        weather.series("minute", "payerne", JUNE)
    assert "\n" not in str(told.value)


def test_a_damaged_archive_is_refused(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    folder = weather.cache_dir()
    folder.mkdir(parents=True)
    (folder / f"pvlib-{weather.SOURCE_VERSION}.tar.gz").write_bytes(b"half")
    with pytest.raises(UserError, match=r"sha256 .* is not .* delete it"):
        weather.series("minute", "alamosa", JUNE)


@pytest.mark.skipif(not (weather.cache_dir() / f"pvlib-{weather.SOURCE_VERSION}.tar.gz").is_file(),
                    reason="measured days are not in the cache; run once online")
@pytest.mark.parametrize("name", weather.names("minute"))
def test_measured_minutes(name):
    got = weather.series("minute", name, JUNE)
    assert np.allclose(np.diff(got.unix_s), 60.0)
    assert got.dni_w_m2.max() > 800.0
    assert got.unix_s[0] <= JUNE.timestamp() <= got.unix_s[-1]
