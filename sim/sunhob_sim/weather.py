"""Real weather for the bench: hourly years that come inside pvlib, and days measured minute by minute.

Units: unix seconds, W/m2, degrees. The hourly years lie in pvlib's wheel. The measured days are test data of
pvlib's source archive, fetched once through pip into the user's cache and checked against their sum.
The light is that of the named place: a cooker judged under it wants its site set there.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tarfile
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
from sunhob.errors import UserError

from .sky import Series, Site

# stem: file in pvlib/data, and what it is
HOURLY = {
    "sand_point": ("703165TY.csv", "typical year, Sand Point, Alaska (TMY3)"),
    "greensboro": ("723170TYA.CSV", "typical year, Greensboro, North Carolina (TMY3)"),
}
SOURCE_VERSION = "0.16.1"
SOURCE_SHA256 = "58c435f93be516bcedf53dc3a49b2079e9e00af373f5c052cb7cf8d2b973ce62"
# name: file in the archive's tests/data, latitude, longitude [deg], altitude [m], what it is
MINUTE = {
    "payerne": ("bsrn-pay0616.dat.gz", 46.815, 6.944, 491.0, "Payerne, June 2016 (BSRN)"),
    "alamosa": ("surfrad-slv16001.dat", 37.70, -105.92, 2317.0, "Alamosa, 1 January 2016 (SURFRAD)"),
}
PIP_TIMEOUT_S = 600


def names(kind: str) -> list[str]:
    """Names that `series` knows for 'hourly' or 'minute'."""
    return sorted(HOURLY if kind == "hourly" else MINUTE)


def series(kind: str, source: str, start: datetime) -> Series:
    """Light from a named source around `start` (UTC): that day of the hourly year, or the measured day."""
    if source not in names(kind):
        known = ", ".join(names(kind))
        raise UserError(f"sky.source = {source}: no {kind} data of that name; give one of {known}")
    return hourly(source, start) if kind == "hourly" else minute(source, start)


def hourly(source: str, start: datetime) -> Series:
    """The hourly year laid over the year of `start` (UTC), day of year on day of year."""
    name, about = HOURLY[source]
    frame, meta = pvlib.iotools.read_tmy3(Path(pvlib.__file__).parent / "data" / name, map_variables=True)
    site = Site(meta["latitude"], meta["longitude"], meta["altitude"])
    # rows run through a plain year hour by hour, in standard time of the zone; a mean stands for its middle
    hours = np.arange(len(frame)) + 0.5 - float(meta["TZ"])
    into = (hours % len(frame)) * 3600.0
    year = start.astimezone(UTC).year
    order = np.argsort(into, kind="stable")
    first = datetime(year, 1, 1, tzinfo=UTC).timestamp()
    dni, ghi = (frame[name].to_numpy(float)[order] for name in ("dni", "ghi"))
    return Series(first + into[order], dni, ghi, site, about)


def minute(source: str, start: datetime) -> Series:
    """The measured days; if `start` lies on none of them, the first is moved onto the day of `start`."""
    name, lat, lon, altitude, about = MINUTE[source]
    site = Site(lat, lon, altitude)
    return _moved(_read_minute(_unpacked(name)), site, about, start)


def _moved(frame: pd.DataFrame, site: Site, about: str, start: datetime) -> Series:
    good = frame[["dni", "ghi"]].astype(float)
    good = good.where(good > -50.0).interpolate(limit=30).fillna(0.0).clip(lower=0.0)
    unix = np.array([t.timestamp() for t in good.index])
    at = start.astimezone(UTC).timestamp()
    shift = 0.0
    if not unix[0] <= at <= unix[-1]:
        day = datetime.fromtimestamp(unix[0], UTC).replace(hour=0, minute=0, second=0, microsecond=0)
        there = start.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
        shift = (there - day).total_seconds()
    return Series(unix + shift, good["dni"].to_numpy(), good["ghi"].to_numpy(), site, about)


def _read_minute(path: Path) -> pd.DataFrame:
    if path.name.startswith("bsrn"):
        frame, _ = pvlib.iotools.read_bsrn(path)
        return frame
    frame, _ = pvlib.iotools.read_surfrad(path)
    return frame


def cache_dir() -> Path:
    """Where fetched weather is kept: XDG_CACHE_HOME, else the user's own cache folder."""
    base = os.environ.get("XDG_CACHE_HOME") or (
        os.environ.get("LOCALAPPDATA") if sys.platform == "win32" else None
    ) or str(Path.home() / ".cache")
    return Path(base) / "sunhob" / "weather"


def _unpacked(name: str) -> Path:
    """The named test data file of the source archive, unpacked in the cache."""
    target = cache_dir() / name
    if target.is_file():
        return target
    archive = cache_dir() / f"pvlib-{SOURCE_VERSION}.tar.gz"
    if not archive.is_file():
        _fetch(archive)
    _check(archive)
    with tarfile.open(archive) as tar:
        member = tar.extractfile(f"pvlib-{SOURCE_VERSION}/tests/data/{name}")
        if member is None:
            raise UserError(f"weather {name}: not in {archive.name}; delete {archive} and try again")
        part = target.with_suffix(".part")
        part.write_bytes(member.read())
        part.replace(target)
    return target


def _check(archive: Path) -> None:
    found = hashlib.sha256(archive.read_bytes()).hexdigest()
    if found != SOURCE_SHA256:
        want = SOURCE_SHA256[:12]
        raise UserError(f"weather archive {archive}: sha256 {found[:12]}... is not {want}...; delete it")


def _fetch(archive: Path) -> None:
    """Download pvlib's source archive with pip and put it at `archive`."""
    archive.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-binary", "pvlib", "--no-deps",
                   "--dest", folder, f"pvlib=={SOURCE_VERSION}"]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=PIP_TIMEOUT_S, check=False)
        except subprocess.TimeoutExpired:
            raise UserError(_offline(f"no answer in {PIP_TIMEOUT_S} s")) from None
        got = list(Path(folder).glob("pvlib-*.tar.gz"))
        if done.returncode or not got:
            lines = [line for line in done.stderr.strip().splitlines() if line.strip()]
            raise UserError(_offline(lines[-1] if lines else "pip gave no archive"))
        part = archive.with_suffix(".part")
        part.write_bytes(got[0].read_bytes())
        part.replace(archive)


def _offline(why: str) -> str:
    return (f"measured weather: pip could not fetch pvlib {SOURCE_VERSION} source ({why}); "
            "go online once, or use sky.kind = \"hourly\" or \"clouds\"")
