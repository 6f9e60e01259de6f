"""Builder and judge of the board's heat table, from the ray trace of the dish and its pot.

Units: degrees, W at a beam of 1000 W/m2, shares 0..1; the file's own units stand in the board's reader,
`sunhob_board.heat.table`.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sunhob_board.heat.table import (
    FORMAT,
    HEADER,
    HEADER_BYTES,
    MAGIC,
    MOST_CELLS,
    STRAY_UNIT,
    UNIT,
    HeatTable,
    HeatTableError,
    table_crc,
)

from .errors import UserError
from .optics.geometry import optics_fingerprint, optics_of
from .optics.intercept import Intercept, cached_intercept
from .settings import Cooker

WORST_ALLOWED = 0.002  # of full heat: what rounding in the file and integers on the board may cost
_GRID = 100.0  # steps of the grid in a degree


def table_bytes(found: Intercept, fingerprint: int) -> bytes:
    """The table file of a ray trace; fingerprint (0 .. 2**32 - 1) of the settings it was traced for."""
    shape = found.absorbed.shape
    turns = np.arange(shape[2]) * 360.0 / shape[2]
    if 360 % shape[2] or not np.allclose(found.direction_deg, turns) or found.absorbed.size > MOST_CELLS:
        raise UserError(f"heat table: directions must part the turn evenly, cells be at most {MOST_CELLS}")
    full = float(found.absorbed[0].max())
    if full <= 0.0:
        raise UserError("heat table: no light reaches the pot of a dish aimed true; look at dish and pot")
    share = np.clip(np.rint(found.absorbed / full * UNIT), 0, 65535).astype("<u2")
    stray = np.clip(np.rint(found.stray * STRAY_UNIT), 0, 255).astype("<u1")
    grid = np.rint(np.concatenate([found.lag_deg, found.elevation_deg]) * _GRID).astype("<u2")
    body = grid.tobytes() + share.tobytes() + stray.tobytes()
    head = (MAGIC, FORMAT, *shape, 0, fingerprint, round(10.0 * found.full_heat_w_at_1000))
    data = struct.pack(HEADER, *head, table_crc(struct.pack(HEADER, *head, 0) + body)) + body
    HeatTable(data, fingerprint)  # what the board would refuse is never handed out
    return data


def build_heat_table(cooker: Cooker, progress: Callable[[int, int], None] | None = None) -> bytes:
    """The table file of a cooker; `progress` is told (parts done, parts in all) while rays are traced."""
    return table_bytes(cached_intercept(optics_of(cooker), progress), optics_fingerprint(cooker))


def read_heat_table(data: bytes, cooker: Cooker) -> HeatTable:
    """The table as this cooker's board reads it. UserError says why the board would refuse it."""
    try:
        return HeatTable(data, optics_fingerprint(cooker))
    except HeatTableError as error:
        raise UserError(str(error.args[1])) from None


def facts(data: bytes) -> dict[str, Any]:
    """What stands in the head of a good table file; units in the keys."""
    head = struct.unpack_from(HEADER, data)
    return {
        "bytes": len(data),
        "format": head[1],
        "lags": head[2],
        "elevations": head[3],
        "directions": head[4],
        "optics_fingerprint": f"{head[6]:08x}",
        "full_heat_w_at_1000": head[7] / 10.0,
        "greatest_lag_deg": struct.unpack_from("<H", data, HEADER_BYTES + 2 * head[2] - 2)[0] / _GRID,
    }


def worst_error(table: HeatTable, found: Intercept, points: int = 2000, seed: int = 1) -> dict[str, float]:
    """The board's reader against the ray trace it came from, at random attitudes: shares of full heat."""
    rng = np.random.default_rng(seed)
    lag, elevation = (rng.uniform(axis[0], axis[-1], points) for axis in (found.lag_deg, found.elevation_deg))
    direction = rng.uniform(0.0, 360.0, points)
    udeg = np.rint(np.stack([lag, elevation, direction], axis=-1) * 1e6).astype(int).tolist()
    read = np.array([table.share(*one) for one in udeg]) / UNIT
    full = found.full_heat_w_at_1000 / (1000.0 * found.optics.aperture_m2 * found.optics.returned)
    off: NDArray[Any] = read - found.at(lag, elevation, direction, "absorbed") / full
    return {
        "worst_error_of_full_heat": float(np.abs(off).max()),
        "trace_standard_error": float(found.standard_error.max()),
    }
