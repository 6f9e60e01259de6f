"""The true state of a run, drawn together from the plant's record and the sky, for judge and figures.

Units: seconds from the start, degrees, W/m2. Hour angles are counted positive to the west.
Written with numpy apart from the firmware; nothing the firmware believes is used.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .plant import Plant
from .sky import Site

HELD = ("power", "chain", "buzzer", "moving", "push1_s", "push2_s", "lamp_fault", "lamp_armed", "covered",
        "supply", "dead1", "dead2")


def separation_deg(a: NDArray, b: NDArray) -> NDArray:
    """Angle in degrees between unit vectors, row by row, good for small angles too."""
    cross = np.linalg.norm(np.cross(a, b), axis=-1)
    return np.degrees(np.arctan2(cross, np.sum(a * b, axis=-1)))


def dec_ha_deg(direction: NDArray, latitude_deg: float) -> tuple[NDArray, NDArray]:
    """Declination and hour angle in degrees of ENU unit vectors at a latitude."""
    lat = np.radians(latitude_deg)
    e, n, u = direction[..., 0], direction[..., 1], direction[..., 2]
    toward_pole = n * np.cos(lat) + u * np.sin(lat)
    toward_meridian = u * np.cos(lat) - n * np.sin(lat)
    dec = np.degrees(np.arcsin(np.clip(toward_pole, -1.0, 1.0)))
    return dec, np.degrees(np.arctan2(-e, toward_meridian))


def from_dec_ha(dec_deg: ArrayLike, ha_deg: ArrayLike, latitude_deg: float) -> NDArray:
    """ENU unit vectors from declination and hour angle in degrees."""
    dec, ha, lat = np.radians(dec_deg), np.radians(ha_deg), np.radians(latitude_deg)
    meridian = np.cos(dec) * np.cos(ha)
    e = -np.cos(dec) * np.sin(ha)
    n = np.sin(dec) * np.cos(lat) - meridian * np.sin(lat)
    u = np.sin(dec) * np.sin(lat) + meridian * np.cos(lat)
    return np.stack(np.broadcast_arrays(e, n, u), axis=-1)


def refraction_deg(true_elevation_deg: NDArray, site: Site) -> NDArray:
    """Lift of a direction by the air, degrees: the formula of NREL/TP-560-34302, eq. 42."""
    h = np.maximum(true_elevation_deg, -0.83)
    lift = 1.02 / (60.0 * np.tan(np.radians(h + 10.3 / (h + 5.11))))
    lift = lift * (site.pressure_pa / 101000.0) * (283.0 / (273.0 + site.temp_c))
    return np.where(true_elevation_deg < -0.8333, 0.0, lift)


def _lifted(direction: NDArray, by_deg: NDArray) -> NDArray:
    flat = np.hypot(direction[..., 0], direction[..., 1])
    el = np.arctan2(direction[..., 2], flat)
    new = el + np.radians(by_deg)
    scale = np.cos(new) / np.maximum(flat, 1e-12)
    return np.stack([direction[..., 0] * scale, direction[..., 1] * scale, np.sin(new)], axis=-1)


def elevation_deg(direction: NDArray) -> NDArray:
    """Elevation in degrees of ENU unit vectors."""
    return np.degrees(np.arctan2(direction[..., 2], np.hypot(direction[..., 0], direction[..., 1])))


def trailing(sun: NDArray, lag_deg: ArrayLike, site: Site) -> NDArray:
    """Apparent direction of the point `lag_deg` behind the apparent sun on the circle it runs along."""
    lag = np.broadcast_to(np.asarray(lag_deg, dtype=float), sun.shape[:-1])
    apparent = elevation_deg(sun)
    true_el = apparent
    for _ in range(3):
        true_el = apparent - refraction_deg(true_el, site)
    dec, ha = dec_ha_deg(_lifted(sun, true_el - apparent), site.latitude_deg)
    half = np.sin(np.radians(lag) / 2.0) / np.cos(np.radians(dec))
    behind = 2.0 * np.degrees(np.arcsin(np.clip(half, -1.0, 1.0)))
    out = from_dec_ha(dec, ha - behind, site.latitude_deg)
    return _lifted(out, refraction_deg(elevation_deg(out), site))


@dataclass
class Truth:
    """Columns over `t_s`: directions (n, 3), separations and hour angles in degrees, beam in W/m2."""

    t_s: NDArray
    aim: NDArray
    sun: NDArray
    separation_deg: NDArray
    behind_deg: NDArray  # hour angle of the aim behind the sun's, -180 to 180
    aim_dec_deg: NDArray
    sun_elevation_deg: NDArray
    dni_w_m2: NDArray
    axes_deg: NDArray  # (n, 2)
    held: dict[str, NDArray]
    site: Site
    start_unix: float
    flat: dict[str, Any]
    presses: list[tuple[float, int]]
    calm: bool  # no gust was ever strong enough to move the dish in its play
    pot: dict[str, NDArray]  # columns of hob.COLUMNS at `t_s`; empty where no pot was modelled
    turned_s: list[float] = field(default_factory=list)  # when the board turned back on its way to the sun


def _aims(plant: Plant, axes_deg: NDArray, stand: NDArray) -> NDArray:
    """ENU of the dish axis row by row, each with the mount that stood then."""
    out = np.empty((len(axes_deg), 3))
    for number, mount in enumerate(plant.stands):
        rows = stand == number
        out[rows] = mount.enu(axes_deg[rows, 0], axes_deg[rows, 1])
    return out


def _pot_at(rows: dict[str, NDArray], t_s: NDArray) -> dict[str, NDArray]:
    """The pot's record at other times: between its rows, but for what is on or off."""
    out = {name: np.interp(t_s, rows["t_s"], values) for name, values in rows.items() if name != "t_s"}
    last = np.clip(np.searchsorted(rows["t_s"], t_s, side="right") - 1, 0, len(rows["t_s"]) - 1)
    return out | {name: rows[name][last] for name in ("on_hob", "lid")}


def build(plant: Plant, t_s: ArrayLike | None = None) -> Truth:
    """Truth of a run at the plant's own record times, or at `t_s` seconds from the start."""
    row = plant.record()
    recorded = row["t_s"]
    t = recorded if t_s is None else np.asarray(t_s, dtype=float)
    last = np.clip(np.searchsorted(recorded, t, side="right") - 1, 0, len(recorded) - 1)
    if t_s is None:
        last = np.arange(len(recorded))
    axes = np.stack([np.interp(t, recorded, row[f"axis{k}_deg"]) for k in (1, 2)], axis=-1)
    if t_s is None:
        axes = np.stack([row["axis1_deg"], row["axis2_deg"]], axis=-1)
    aim, sun = _aims(plant, axes, row["stand"][last]), plant.sky.sun_array(t)
    lat = plant.sky.site.latitude_deg
    dec, ha = dec_ha_deg(aim, lat)
    _, sun_ha = dec_ha_deg(sun, lat)
    pot = {} if plant.hob is None else _pot_at(plant.hob.record(), t)
    return Truth(
        t, aim, sun, separation_deg(aim, sun), (sun_ha - ha + 180.0) % 360.0 - 180.0, dec,
        elevation_deg(sun), plant.sky.beam(t), axes, {name: row[name][last] for name in HELD},
        plant.sky.site, plant.sky.start_unix, plant.flat, list(plant.presses),
        not plant.wind.shoves and not plant.gusted,
        pot,
    )
