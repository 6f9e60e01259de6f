"""Draws one episode from its seed: place, day, sky, cook and faults, as the text of a scenario file.

Units: degrees, UTC, minutes and seconds from the start of the run. Places, cooks and dishes are invented
by the seed. The same seed and faults give the same text, on any machine.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
from sunhob.sun_truth import sun_azel

from ..faults.kind import Fault
from ..faults.library import BY_NAME
from .kits import Kit, kit_of

HOURS = 1.2
_START_MIN_DEG = 18.0
_ARMS_S = 182.0
_POLAR_SHARE = 0.15
_EPOCH = datetime(2026, 1, 1, tzinfo=UTC)
_YEARS = 15
_COOKS_DEEDS = (
    "leave",
    "aside",
    "arm",
    "confirm",
    "knob",
    "link_leave",
    "link_aside",
    "link_heat",
    "chain_open",
    "pot_lift",
    "pot_set",
    "stir",
)


def _place(chance: random.Random) -> tuple[float, float, datetime]:
    """Latitude, longitude and a start with the sun well up."""
    while True:
        lat, lon = round(chance.uniform(-42.0, 52.0), 3), round(chance.uniform(-180.0, 180.0), 3)
        day = _EPOCH + timedelta(days=chance.randrange(365 * _YEARS))
        start = day + timedelta(hours=(chance.uniform(7.0, 15.5) - lon / 15.0) % 24.0)
        start = start.replace(microsecond=0)
        _, height = sun_azel(np.array([start.timestamp()]), lat, lon)
        if height[0] > _START_MIN_DEG:
            return lat, lon, start


class _Text:
    """Lines of a scenario file, section by section."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def put(self, head: str, **values: object) -> None:
        if head:
            self.lines.append(head)
        for name, value in values.items():
            shown = (
                f'"{value}"'
                if isinstance(value, str)
                else str(value).lower()
                if isinstance(value, bool)
                else value
            )
            self.lines.append(f"{name} = {shown}")


def _at(start: datetime, seconds: float) -> str:
    return (start + timedelta(seconds=round(seconds))).strftime("%Y-%m-%dT%H:%M:%SZ")


def _settings(text: _Text, chance: random.Random, place: tuple[float, float, datetime],
              kit: Callable[[bool], Kit]) -> Kit:
    lat, lon, _ = place
    text.put(
        "[settings.site]", latitude_deg=lat, longitude_deg=lon, altitude_m=round(chance.uniform(0.0, 2800.0))
    )
    found = kit(chance.random() < _POLAR_SHARE)
    for name, values in found.sections.items():
        text.put(f"[settings.{name}]", **values)
    text.put("[settings.cook]", return_after_cloud=chance.random() < 0.3)
    return found


def _surroundings(text: _Text, chance: random.Random, start: datetime) -> None:
    kind = chance.random()
    if kind < 0.3:
        text.put("[sky]", kind="clouds", cover=round(chance.uniform(0.05, 0.6), 2))
    elif kind < 0.4:
        text.put("[sky]", kind="clear")
        text.put(
            "[[sky.cloud]]", at=_at(start, chance.uniform(600, 3000)), minutes=round(chance.uniform(1, 25), 1)
        )
    mean = 0.0 if chance.random() < 0.7 else chance.uniform(1.0, 6.0)
    text.put(
        "[air]",
        wind_m_s=round(mean, 1),
        gust_m_s=round(1.6 * mean, 1),
        temp_c=round(chance.uniform(5, 38), 1),
    )


def _deed(text: _Text, start: datetime, at_s: float, do: str, **more: object) -> None:
    text.put("[[action]]", at=_at(start, at_s), do=do, **more)


def _cook(text: _Text, chance: random.Random, start: datetime, kit: Kit) -> None:
    """Set the clock and home with the cover on, uncover and arm; then what this cook happens to do."""
    _deed(text, start, 0.0, "cover")
    _deed(text, start, 2.0, "clock")
    if kit.season_deg is not None:
        _deed(text, start, 3.0, "season", value=kit.season_deg)
    _deed(text, start, kit.leaves_s, "leave")
    _deed(text, start, 170.0, "knob", value=chance.choice((100, 100, round(chance.uniform(30, 100)))))
    _deed(text, start, _ARMS_S - 2.0, "uncover")
    _deed(text, start, _ARMS_S, "arm")
    for minute in range(45, int(60 * HOURS), 45):
        if chance.random() < 0.7:
            _deed(text, start, 60.0 * minute, "confirm")
    for _ in range(chance.choice((0, 0, 1, 2, 4))):
        do = chance.choice(_COOKS_DEEDS)
        more = {"value": round(chance.uniform(0, 100))} if do in ("knob", "link_heat") else {}
        at_s = chance.uniform(200.0, 3600.0 * HOURS - 1200.0)
        _deed(text, start, at_s, do, **more)
        if do == "chain_open":  # somebody opened it for a reason, and sees to it
            _see_to_chain(text, chance, start, at_s)


def _see_to_chain(text: _Text, chance: random.Random, start: datetime, at_s: float) -> None:
    """Close the chain again and press LEAVE, which is all that moves the dish then."""
    at_s += chance.uniform(20.0, 300.0)
    _deed(text, start, at_s, "chain_close")
    _deed(text, start, at_s + chance.uniform(5.0, 120.0), "leave")


def _fault(text: _Text, chance: random.Random, start: datetime, fault: Fault) -> None:
    at_s = chance.uniform(1.0, 200.0) if chance.random() < 0.1 else chance.uniform(200.0, 2400.0)
    more: dict[str, object] = {}
    if chance.random() < 0.5:
        more["minutes"] = round(chance.choice((0.1, 0.5, 2.0, 10.0, 40.0)) * chance.uniform(0.5, 1.5), 3)
    if fault.low < fault.high:
        more["severity"] = round(chance.uniform(fault.low, fault.high), 4)
    text.put("[[fault]]", name=fault.name, at=_at(start, at_s), **more)
    if fault.halts:
        lasts_s = 60.0 * float(str(more.get("minutes", 0)))
        sees_to_it_s = at_s + lasts_s + chance.uniform(5.0, 300.0)
        if sees_to_it_s < 3600.0 * HOURS - 1.0:  # a fault may outlast the run
            _deed(text, start, sees_to_it_s, "leave")


def episode_text(seed: int, faults: tuple[str, ...]) -> str:
    """The scenario file of an episode: `faults` by name from the library, everything else from the seed."""
    chance = random.Random(f"{seed}:{'+'.join(faults)}")
    place = _place(chance)
    start = place[2]
    text = _Text()
    text.put("", name=f"episode_{seed}", start=f"{start:%Y-%m-%dT%H:%M:%SZ}", hours=HOURS, seed=seed % 2**31)
    text.lines[1] = text.lines[1].replace('"', "")
    _surroundings(text, chance, start)
    kit = _settings(text, chance, place, lambda polar: kit_of(seed, faults, place, polar))
    if kit.board != "pico":
        text.lines.insert(0, f'board = "{kit.board}"')
    _cook(text, chance, start, kit)
    for name in faults:
        _fault(text, chance, start, BY_NAME[name])
    return "\n".join(text.lines) + "\n"


def blocks_of(text: str) -> tuple[str, list[str]]:
    """The head of a scenario file, and its sections one by one."""
    head: list[str] = []
    blocks: list[list[str]] = []
    for line in text.splitlines():
        if line.startswith("["):
            blocks.append([line])
        elif blocks:
            blocks[-1].append(line)
        else:
            head.append(line)
    return "\n".join(head), ["\n".join(block) for block in blocks]


def without(text: str, faults: tuple[str, ...]) -> str:
    """The same episode in which these faults do not happen; all else is as it was."""
    head, blocks = blocks_of(text)
    gone = [f'[[fault]]\nname = "{name}"' for name in faults]
    kept = [block for block in blocks if not block.startswith(tuple(f"{one}\n" for one in gone))]
    return "\n".join([head, *kept]) + "\n"
