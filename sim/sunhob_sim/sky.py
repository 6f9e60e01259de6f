"""The sky over the bench: where the sun truly is and how much light comes down.

Units: seconds from the start of the run, W/m2, ENU unit vectors (east, north, up), degrees.
The sun is pvlib's SPA with refraction, not the board's table; light is pvlib's Ineichen clear sky with the
Linke turbidity climatology of the site, less clouds. Cloud edges take about 11 s: transitions of typically
100 m pass at about 9 m/s (Lappalainen & Valkealahti, Solar Energy 2016).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import ArrayLike, NDArray

SUN_STEP_S = 10
BEFORE_S = 7200  # the sun is known from so long before the start: trailing aims look back
RAMP_S = 11.0
# A cloud scatters some of the beam it takes into the open sky: share of it, common practice, no source.
SCATTER = 0.35
Cloud = tuple[float, float, float]


@dataclass(frozen=True)
class Site:
    """A place: latitude and longitude in degrees (north, east positive), altitude in m, air in deg C."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    temp_c: float = 15.0

    @property
    def pressure_pa(self) -> float:
        """Pressure of the standard atmosphere at the site, Pa."""
        return float(pvlib.atmosphere.alt2pres(self.altitude_m))


@dataclass(frozen=True)
class RandomClouds:
    """Seeded clouds: `cover` is the share of time (0..1) under cloud, `mean_s` the mean cloud in seconds."""

    cover: float = 0.3
    seed: int = 1
    mean_s: float = 150.0

    def over(self, duration_s: float) -> list[Cloud]:
        """Clouds as (start s, duration s, transmittance) from before 0 to past `duration_s`."""
        if self.cover <= 0.0:
            return []
        if self.cover >= 1.0:
            return [(-60.0, duration_s + 120.0, 0.1)]
        rng = np.random.default_rng(self.seed)
        gap_mean = self.mean_s * (1.0 - self.cover) / self.cover
        at = -float(rng.exponential(gap_mean))
        clouds: list[Cloud] = []
        while at < duration_s:
            long = float(rng.exponential(self.mean_s))
            # most cumulus stops the beam, some are thin: common practice, no source
            through = float(rng.uniform(0.0, 0.15) if rng.random() < 0.7 else rng.uniform(0.15, 0.7))
            clouds.append((at, long, through))
            at += long + float(rng.exponential(gap_mean))
        return clouds


@dataclass(frozen=True)
class Series:
    """Measured light: unix seconds, beam and open (global horizontal) irradiance in W/m2."""

    unix_s: NDArray
    dni_w_m2: NDArray
    ghi_w_m2: NDArray
    site: Site | None = None
    about: str = ""


def spa_angles(site: Site, unix_s: ArrayLike) -> tuple[NDArray, NDArray]:
    """Apparent azimuth (from north, clockwise) and elevation in degrees, at unix seconds."""
    unix = np.asarray(unix_s, dtype=float)
    when = pd.Timestamp(float(unix.flat[0]), unit="s")
    delta_t = float(pvlib.spa.calculate_deltat(when.year, when.month))
    out = pvlib.spa.solar_position(
        unix, site.latitude_deg, site.longitude_deg, site.altitude_m, site.pressure_pa / 100.0,
        site.temp_c, delta_t, 0.5667,
    )
    return np.asarray(out[4]), np.asarray(out[2])


def enu(azimuth_deg: ArrayLike, elevation_deg: ArrayLike) -> NDArray:
    """Unit vectors (..., 3) east, north, up from azimuth and elevation in degrees."""
    az, el = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.stack([np.sin(az) * np.cos(el), np.cos(az) * np.cos(el), np.sin(el)], axis=-1)


def transmittance(clouds: Sequence[Cloud], t_s: NDArray) -> NDArray:
    """Share of the beam (0..1) let through at each `t_s`; overlapping clouds multiply."""
    out = np.ones_like(t_s)
    for start, long, through in clouds:
        first, last = np.searchsorted(t_s, (start - RAMP_S, start + long + RAMP_S))
        t = t_s[first:last]
        # a cloud ramps in from its start; one shorter than two ramps never reaches full depth
        depth = np.clip(np.minimum((t - start) / RAMP_S, (start + long - t) / RAMP_S), 0.0, 1.0)
        out[first:last] *= 1.0 - depth * (1.0 - through)
    return out


class Sky:
    """Sun and light over one site from `start_utc_unix` for `duration_s` seconds."""

    def __init__(
        self,
        site: Site,
        start_utc_unix: float,
        duration_s: float,
        clouds: RandomClouds | Series | Sequence[Cloud] | None = None,
        turbidity: float | None = None,
    ) -> None:
        self.site, self.start_unix, self.duration_s = site, float(start_utc_unix), float(duration_s)
        count = math.ceil((duration_s + BEFORE_S) / SUN_STEP_S) + 3
        self._grid_s = np.arange(count, dtype=float) * SUN_STEP_S - BEFORE_S
        azimuth, elevation = spa_angles(site, self.start_unix + self._grid_s)
        self._enu = enu(azimuth, elevation)
        self._rows: list[list[float]] = self._enu.tolist()
        self._last = count - 2
        self._sun_asked: tuple[float, tuple[float, float, float]] = (math.nan, (0.0, 0.0, 0.0))
        self.light_s = np.arange(math.ceil(duration_s) + 3, dtype=float)
        self._fill_light(elevation, clouds, turbidity)
        self._beam: list[float] = self.beam_array.tolist()
        self._open: list[float] = self.open_array.tolist()
        self._light_last = len(self._beam) - 2

    def _fill_light(self, elevation: NDArray, clouds: object, turbidity: float | None) -> None:
        dni, ghi = (np.interp(self.light_s, self._grid_s, x) for x in self._clear(elevation, turbidity))
        self.clear_beam_array, self.clear_open_array = dni, ghi
        if isinstance(clouds, Series):
            unix = self.start_unix + self.light_s
            up = np.interp(self.light_s, self._grid_s, elevation) > 0.0
            self.beam_array = np.maximum(np.interp(unix, clouds.unix_s, clouds.dni_w_m2), 0.0) * up
            self.open_array = np.maximum(np.interp(unix, clouds.unix_s, clouds.ghi_w_m2), 0.0)
            return
        if isinstance(clouds, RandomClouds):
            clouds = clouds.over(self.duration_s)
        through = transmittance(clouds or [], self.light_s)  # type: ignore[arg-type]
        up_part = np.maximum(np.interp(self.light_s, self._grid_s, np.sin(np.radians(elevation))), 0.0)
        lost = (1.0 - through) * dni * up_part
        self.beam_array = dni * through
        self.open_array = np.maximum(ghi - (1.0 - SCATTER) * lost, 0.0)

    def _clear(self, elevation: NDArray, turbidity: float | None) -> tuple[NDArray, NDArray]:
        times = pd.DatetimeIndex(pd.to_datetime(self.start_unix + self._grid_s, unit="s", utc=True))
        s = self.site
        if turbidity is None:
            linke = pvlib.clearsky.lookup_linke_turbidity(times, s.latitude_deg, s.longitude_deg).to_numpy()
        else:
            linke = np.full(len(times), float(turbidity))
        zenith = 90.0 - elevation
        relative = pvlib.atmosphere.get_relative_airmass(zenith)
        airmass = pvlib.atmosphere.get_absolute_airmass(relative, s.pressure_pa)
        extra = np.asarray(pvlib.irradiance.get_extra_radiation(times))
        with np.errstate(invalid="ignore", divide="ignore"):  # a sun on the horizon
            out = pvlib.clearsky.ineichen(zenith, airmass, linke, s.altitude_m, extra)
        return np.nan_to_num(np.asarray(out["dni"])), np.nan_to_num(np.asarray(out["ghi"]))

    def sun_at(self, t_s: float) -> tuple[float, float, float]:
        """Apparent ENU unit vector of the sun at `t_s` seconds from the start (from -7200)."""
        if t_s == self._sun_asked[0]:
            return self._sun_asked[1]
        x = (t_s + BEFORE_S) / SUN_STEP_S
        i = int(x) if x > 0.0 else 0
        if i > self._last:
            i = self._last
        f = x - i
        a, b = self._rows[i], self._rows[i + 1]
        sun = (a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1]), a[2] + f * (b[2] - a[2]))
        self._sun_asked = (t_s, sun)
        return sun

    def sun_array(self, t_s: ArrayLike) -> NDArray:
        """Apparent ENU unit vectors (n, 3) of the sun at seconds from the start."""
        t = np.asarray(t_s, dtype=float)
        out = np.stack([np.interp(t, self._grid_s, self._enu[:, k]) for k in range(3)], axis=-1)
        return np.asarray(out / np.linalg.norm(out, axis=-1, keepdims=True))

    def elevation_deg(self, t_s: float) -> float:
        """Apparent elevation of the sun, degrees."""
        return math.degrees(math.asin(max(-1.0, min(1.0, self.sun_at(t_s)[2]))))

    def beam_w_m2(self, t_s: float) -> float:
        """Direct normal light at `t_s` seconds, W/m2."""
        return self._light(self._beam, t_s)

    def open_w_m2(self, t_s: float) -> float:
        """Light on an open horizontal cell at `t_s` seconds, W/m2."""
        return self._light(self._open, t_s)

    def beam(self, t_s: ArrayLike) -> NDArray:
        """Direct normal light at an array of seconds, W/m2."""
        return np.interp(np.asarray(t_s, dtype=float), self.light_s, self.beam_array)

    def _light(self, rows: list[float], t_s: float) -> float:
        i = int(t_s) if t_s > 0.0 else 0
        if i > self._light_last:
            i = self._light_last
        a = rows[i]
        return a + (t_s - i) * (rows[i + 1] - a)
