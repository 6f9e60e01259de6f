"""Guided sightings: one after another over the day, each kept at once. Units: deg, s, UTC."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from sunhob.cooker_writer import write_new
from sunhob.errors import UserError

from .advice import advise
from .course import course, height_deg, promise, where
from .fit import needed, residuals, roughly
from .hands import Hands, Reading
from .model import pointing
from .sight import Enough, Sight, Skip
from .sightings import CLOCK_COLUMNS, COLUMNS, SITE_COLUMNS, Sightings, read_sightings, sightings_of

_PARK_S = 180.0  # a longer wait is spent at the park
_EARLY_S = 40.0  # so long before its time it sets out for the next sighting
_MOVES = 60  # turns asked at one sighting, at most
_MOVE_S, _MOST_MOVE_S = 12.0, 30.0  # a small move of both axes, to begin with; at most counted
_EXTRA = 2  # sightings beyond the plan, where they are too weak
_SUN_OFF_DEG = 0.5  # refraction and the age of the answer are less
CLOCK_OFF_S = 2.0  # a clock further off than this is told


@dataclass
class Kept:
    """Sightings so far, with the state of the clock at each: its source, s off this computer's.

    site: where they are taken (latitude, longitude in degrees).
    """

    path: Path
    site: tuple[float, float]
    at: list[datetime] = field(default_factory=list)
    axes: list[tuple[float, float]] = field(default_factory=list)
    clock: list[tuple[str, float]] = field(default_factory=list)

    @classmethod
    def of(cls, path: Path, cooker: Any) -> Kept:
        """Those of a file that is there already, else none.

        UserError, before anything moves, where none could be kept there."""
        site = cooker.site.latitude_deg, cooker.site.longitude_deg
        if not path.parent.is_dir():
            raise UserError(f"{path}: there is no directory {path.parent}; make it first")
        if not os.access(path if path.exists() else path.parent, os.W_OK):
            raise UserError(f"{path}: cannot be written; look at its rights, or give another file")
        if not path.exists():
            return cls(path, site)
        seen = read_sightings(path, cooker)
        axes = [(float(a), float(b)) for a, b in seen.axes_deg]
        return cls(path, site, list(seen.at), axes, list(seen.clock))

    def add(self, reading: Reading, source: str, off_s: float) -> None:
        """Keep one more, in the file too."""
        self.at.append(reading.at)
        self.axes.append(reading.axes_deg)
        self.clock.append((source, off_s))
        out = io.StringIO()
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow((*COLUMNS, *CLOCK_COLUMNS, *SITE_COLUMNS))
        for at, axes, clock in zip(self.at, self.axes, self.clock, strict=True):
            stamp = at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
            rows.writerow((stamp, f"{axes[0]:.5f}", f"{axes[1]:.5f}", clock[0],
                           f"{round(clock[1], 1) + 0.0:.1f}", *self.site))
        write_new(self.path, out.getvalue(), force=True)

    def seen(self, cooker: Any) -> Sightings:
        """Them with the sun beside them."""
        return sightings_of(self.at, self.axes, cooker, self.clock)


class Guide:
    """Leads through the sightings. tell: says a line; rest: waits so many seconds with words for the why;
    utc: the true time as this computer (or the bench) has it."""

    def __init__(self, hands: Hands, cooker: Any, sight: Sight, tell: Callable[[str], None],
                 rest: Callable[[float, str], None], utc: Callable[[], datetime]) -> None:
        self.hands, self.cooker, self.sight = hands, cooker, sight
        self.tell, self.rest, self.utc = tell, rest, utc

    def ready(self) -> None:
        """UserError where the board is not fit to be aligned now; a clock that is off is told."""
        status = self.hands.read().status
        if not status["clock_known"]:
            raise UserError("the board's clock is not set; set it first: sunhob dish set time --port ...")
        if not status["place_known"]:
            raise UserError("the axes do not know where they are; with the dish masked press LEAVE at the "
                            "dish: it homes itself")
        if status["mode"] not in ("PARKED", "BY_HAND"):
            raise UserError(f"the dish is {status['mode']}; let it park first: sunhob dish leave")
        self._same_sun(status)
        off = self._off_s()
        if abs(off) > CLOCK_OFF_S:
            self.tell(f"The board's clock is {off:+.0f} s off this one's: that turns the whole alignment by "
                      f"{abs(off) * 15.041 / 3600.0:.2f} deg. Set it first, unless it is the truer one.")

    def _same_sun(self, status: dict[str, Any]) -> None:
        """UserError where the board sees the sun from another place than the cooker file."""
        told, now = status.get("sun_elevation_deg"), self.hands.read().at
        here = float(height_deg([now], self.cooker)[0])
        if told is not None and here > 0.0 and abs(told - here) > _SUN_OFF_DEG:
            raise UserError(f"the board has the sun at {told:.1f} deg now, {self.cooker.label} at "
                            f"{here:.1f}: it is set up for another place; give --cooker with its file, or "
                            "install this one on it")

    def _off_s(self) -> float:
        asked = self.utc()  # the board answers at once, and may sleep after that
        return (self.hands.read().at - asked).total_seconds()

    def take(self, count: int, kept: Kept, names: tuple[str, ...], start: Mapping[str, float],
             hours: float | None, spare_min: float = 0.0) -> dict[str, float]:
        """Take sightings until there are `count` and they support `names`; returns values for pointing."""
        left = max(0, count - len(kept.at))
        moments = course(self.utc(), left, self.cooker, hours, spare_min) if left else []
        if moments:
            self._tell_plan(moments, kept, start, names)
        values = self._values(kept, start)
        extra = 0
        while moments:
            try:
                values = self._one(moments.pop(0), kept, values, start)
            except Enough:
                break
            if not moments and extra < _EXTRA and len(kept.at) >= needed(names):
                more = advise(kept.seen(self.cooker), values, names, self.cooker, after=self.utc())
                if not more.good and more.at is not None:
                    self.tell(f"One more: {more.words}.")
                    moments, extra = [more.at], extra + 1
        return values

    def _tell_plan(self, moments: list[datetime], kept: Kept, start: Mapping[str, float],
                   names: tuple[str, ...]) -> None:
        worst = max(promise([*kept.at, *moments], start, names, self.cooker).items(), key=lambda p: p[1])
        self.tell(f"{len(moments)} sightings from {moments[0]:%H:%M} to {moments[-1]:%H:%M} UTC"
                  + (f", beside {len(kept.at)} kept before" if kept.at else "")
                  + f"; the least well known should be {worst[0]}, to {worst[1]:.2f} deg.")

    def _values(self, kept: Kept, start: Mapping[str, float]) -> dict[str, float]:
        if not kept.at:
            return dict(start)
        polar = self.cooker.mount.kind == "polar"
        return roughly(kept.seen(self.cooker), start, polar, self.cooker.site.latitude_deg)

    def _one(self, at: datetime, kept: Kept, values: dict[str, float],
             start: Mapping[str, float]) -> dict[str, float]:
        reading = self.centred(at, values, f"sighting {len(kept.at) + 1}")
        if reading is None:
            return values
        kept.add(reading, "set" if reading.status.get("clock_was_set") else "chip", self._off_s())
        self.tell(f"Sighting {len(kept.at)}: {reading.at:%H:%M:%S} UTC, axis 1 {reading.axes_deg[0]:.3f}, "
                  f"axis 2 {reading.axes_deg[1]:.3f} deg. Kept in {kept.path}.")
        return self._values(kept, start)

    def centred(self, at: datetime, values: Mapping[str, float], name: str) -> Reading | None:
        """Point near the sun of that moment, let the sight be centred; the reading, None if left out."""
        self._await(at, name)
        now = self.hands.read()
        wanted, azimuth, elevation = where(self.utc(), values, self.cooker, now.axes_deg[0])
        self.tell(f"For {name} the sun stands at azimuth {azimuth:.1f}, elevation {elevation:.1f} deg: "
                  f"going to axis 1 {wanted[0]:.2f}, axis 2 {wanted[1]:.2f} deg. Keep clear.")
        if not self.hands.inside(wanted):
            self.tell("That is outside the travel: left out.")
            return None
        self.sight.fresh()
        try:
            return self._settle(self.hands.turn_to(wanted), values)
        except Skip:
            self.tell("Left out.")
            return None

    def _settle(self, now: Reading, values: Mapping[str, float]) -> Reading:
        """Turn as the sight asks, and by what the sun goes on meanwhile, until it is centred."""
        takes_s = _MOVE_S
        for _ in range(_MOVES):
            turn = self.sight.wants(now.axes_deg)
            now = self.hands.read()
            if turn is None:
                if all(now.play_up) and not now.moving:
                    return now
                turn = (0.0, 0.0)
            drift = self._drift_deg(now, values, takes_s)
            wanted = (now.axes_deg[0] + turn[0] + drift[0], now.axes_deg[1] + turn[1] + drift[1])
            if not self.hands.inside(wanted):
                self.tell("That is outside the travel of this mount.")
                continue
            began = now.at
            now = self.hands.turn_to(wanted)
            takes_s = min(_MOST_MOVE_S, (now.at - began).total_seconds())
        raise UserError(f"the sight was not centred in {_MOVES} moves; is it the sun's shadow, and does "
                        "nothing slip?")

    def _drift_deg(self, now: Reading, values: Mapping[str, float], seconds: float) -> tuple[float, float]:
        """What the sun goes on in readings during a move of so many seconds."""
        later = now.at + timedelta(seconds=seconds)
        (a1, a2), (b1, b2) = (where(at, values, self.cooker, now.axes_deg[0])[0] for at in (now.at, later))
        return ((b1 - a1 + 180.0) % 360.0 - 180.0, b2 - a2)

    def _await(self, at: datetime, name: str) -> None:
        wait = (at - self.utc()).total_seconds() - _EARLY_S
        if wait <= 0.0:
            return
        if wait > _PARK_S and self.hands.read().status["mode"] == "BY_HAND":
            self.hands.park()
        while (left := (at - self.utc()).total_seconds() - _EARLY_S) > 0.0:
            self.rest(min(left, 60.0), f"{name} at {at:%H:%M} UTC, in {left / 60.0:.0f} min")

    def verify(self, values: Mapping[str, float], at: datetime) -> dict[str, Any]:
        """One sighting more, not in the fit: where a dish of these values points with what it reads then,
        where the sun stands (azimuth, elevation), and how far apart they are [deg on the sky]."""
        polar, latitude = self.cooker.mount.kind == "polar", self.cooker.site.latitude_deg
        try:
            reading = self.centred(at, values, "the proof")
        except Enough:
            reading = None
        if reading is None:
            raise UserError("the proof was left out; nothing is known of how good the fit is")
        seen = sightings_of([reading.at], [reading.axes_deg], self.cooker)
        off = residuals(values, seen, polar, latitude)[0]
        points = pointing(values, reading.axes_deg[0], reading.axes_deg[1], polar, latitude)
        return {"at_utc": reading.at.isoformat(timespec="seconds").replace("+00:00", "Z"),
                "predicted_deg": _azimuth_elevation(points), "seen_deg": _azimuth_elevation(seen.sun[0]),
                "off_deg": float(np.hypot(*off))}


def _azimuth_elevation(enu: np.ndarray) -> list[float]:
    """Of a unit vector east, north, up: azimuth clockwise from north, elevation [deg]."""
    return [float(np.degrees(np.arctan2(enu[0], enu[1]))) % 360.0,
            float(np.degrees(np.arcsin(np.clip(enu[2], -1.0, 1.0))))]
