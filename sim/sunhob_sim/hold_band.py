"""How well a wished pot temperature was held, from the true state. Units: s, K, W/m2, share of time, 1/h.

Counted from the first moment within the band to the end of the wish; only while the sun shines, since nothing
holds a pot without it.
"""

import itertools
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sunhob.run_result import Trace

BAND_K = 2.0
_ENDS = ("leave", "aside", "serve", "knob", "link_heat", "link_watts", "link_leave", "box", "chain_open")


def hold_band(trace: Trace, actions: Sequence[dict[str, Any]], events: Sequence[dict[str, Any]],
              sunny_w_m2: float) -> dict[str, float]:
    """Figures of the last wish to hold a temperature; {} where none was made.

    hold_in_band: share of the sunny time within 2 K; hold_overshoot_k: most above the wish, sun or none;
    hold_reached_s: from the wish to the band, NaN if never; hold_moves_per_hour: changes of the heat.
    """
    wishes = [a for a in actions if a["do"] == "link_pot"]
    if not wishes:
        return {}
    wish = wishes[-1]
    end = min((a["t_s"] for a in actions if a["do"] in _ENDS and a["t_s"] > wish["t_s"]), default=np.inf)
    rows = (trace.t_s >= wish["t_s"]) & (trace.t_s < end)
    t, off = trace.t_s[rows], trace.contents_c[rows] - wish["value"]
    inside = np.abs(off) <= BAND_K
    if not inside.any():
        return {"hold_in_band": 0.0, "hold_overshoot_k": round(float(off.max(initial=0.0)), 2),
                "hold_reached_s": float("nan"), "hold_moves_per_hour": float("nan")}
    first = int(np.argmax(inside))
    sunny: NDArray[np.bool_] = trace.dni_w_m2[rows][first:] >= sunny_w_m2
    good = float(inside[first:][sunny].mean()) if sunny.any() else float("nan")
    told = [(e["t_s"], e["a"]) for e in events if e["name"] == "dial"]
    turns = [t_s for (_, before), (t_s, heat) in itertools.pairwise(told)
             if heat != before and t[first] <= t_s <= t[-1]]
    # a pot that comes down to the wish overshoots only once it has been there
    there = off <= 0.0
    over_k = float(off[int(np.argmax(there)):].max()) if there.any() else float(off[first:].max())
    hours = max(float(t[-1] - t[first]), 1.0) / 3600.0
    return {"hold_in_band": round(good, 4), "hold_overshoot_k": round(over_k, 2),
            "hold_reached_s": round(float(t[first] - wish["t_s"]), 1),
            "hold_moves_per_hour": round(len(turns) / hours, 1)}
