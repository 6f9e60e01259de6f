"""Heat lost or gained by a pot set down beside the focus and by a misaligned dish, with and without the trim.

Units: mm, deg, s, % of full heat. A pot of 6 kg at 15 degC gets full heat for a quarter of an hour and then
60 % for another fifty minutes, with the real firmware on the bench; told is what the pot truly takes up over
the last twenty of them, less what is asked. The misalignment is along the sun's path, made by the clock.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from joblib import Parallel, cpu_count, delayed
from sunhob_sim import scenario as sc
from sunhob_sim.bench import run_scenario

OFFSETS_MM = (0.0, 5.0, 10.0, 15.0)
BEARINGS_DEG = (0.0, 90.0, 180.0, 270.0)
MISALIGNED_DEG = (-0.2, 0.2)
_S_PER_DEG = 240.0  # of hour angle
_LAST_S = 1200.0
_DAY = """
name = "trim"
start = 2026-03-12T05:00:00Z
hours = 1.2
[settings.heat]
trim = {trim}
[base]
clock_error_s = {late_s}
[pot]
water_kg = 6
start_c = 15
offset_mm = {off_mm}
offset_bearing_deg = {bearing_deg}
"""
_DEEDS = (("05:01", "home", None), ("05:03", "knob", 100), ("05:04", "arm", None), ("05:19", "knob", 60))


def _off_percent(trim: bool, off_mm: float, bearing_deg: float, off_deg: float) -> float:
    """Heat of the pot beyond the heat asked, % of full, over the end of the run."""
    text = _DAY.format(trim=str(trim).lower(), late_s=off_deg * _S_PER_DEG, off_mm=off_mm,
                       bearing_deg=bearing_deg)
    for at, do, value in _DEEDS:
        text += f'[[action]]\nat = "{at}"\ndo = "{do}"\n' + (f"value = {value}\n" if value else "")
    trace = run_scenario(sc.parse(text), "cpython").trace
    last = trace.t_s > trace.t_s[-1] - _LAST_S
    return float(100.0 * np.mean(trace.fraction[last] - trace.asked_fraction[last]))


def _cases() -> Iterator[tuple[str, float, float, float]]:
    for mm in OFFSETS_MM:
        for bearing in BEARINGS_DEG if mm else (0.0,):
            yield f"pot {mm:g} mm off", mm, bearing, 0.0
    for deg in MISALIGNED_DEG:
        yield "aim 0.2 deg off", 0.0, 0.0, deg


def trimmed() -> dict[str, tuple[float, float]]:
    """(without, with the trim) for each kind of error: the worst change of heat, % of full."""
    cases = list(_cases())
    got = Parallel(n_jobs=cpu_count())(
        delayed(_off_percent)(trim, *case[1:]) for trim in (False, True) for case in cases)
    names = list(dict.fromkeys(case[0] for case in cases))
    worst = [{name: max((v for c, v in zip(cases, part, strict=True) if c[0] == name), key=abs)
              for name in names} for part in (got[:len(cases)], got[len(cases):])]
    return {name: (worst[0][name], worst[1][name]) for name in names}


if __name__ == "__main__":
    for name, pair in trimmed().items():
        print(name, *(f"{v:+.2f}" for v in pair))
