"""What the board last said, at any time: its events as steps. Units: s from the start."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def steps(t_s: NDArray, events: list[dict[str, Any]], name: str, column: str, first: float) -> NDArray:
    """The value last told by event `name`, at each time."""
    at = np.array([-np.inf] + [e["t_s"] for e in events if e["name"] == name])
    value = np.array([first] + [e[column] for e in events if e["name"] == name], dtype=float)
    return np.asarray(value[np.searchsorted(at, t_s, side="right") - 1])
