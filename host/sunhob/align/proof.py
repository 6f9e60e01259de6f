"""Whether what was found holds: one sighting more, predicted beside seen. Units: deg, UTC."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

from sunhob.board.image import KINDS, all_files, mark
from sunhob.board.put import progress
from sunhob.errors import UserError

from .advice import pointing_error_deg
from .course import course
from .fit import Fit
from .guided import Guide
from .model import from_cooker

_NORTH_DEG = 0.02  # north as the board has it and as the file has it: the same, but for rounding


def judged(got: dict[str, Any], found: Fit, cooker: Any) -> dict[str, Any]:
    """A sighting that Guide.verify took, with what it may miss by: what the fit and its own sight allow, at
    99 %."""
    each_way = max(found.rms_deg, 0.03) / math.sqrt(2.0)
    spread = math.hypot(pointing_error_deg(found, cooker, got["at_utc"]), each_way)
    limit = spread * math.sqrt(-2.0 * math.log(0.01)) * found.spread() / 1.96
    return {**got, "limit_deg": limit, "good": got["off_deg"] <= limit}


def by_fit(guide: Guide, found: Fit, at: datetime, cooker: Any) -> dict[str, Any]:
    """Predicted by the fit."""
    return judged(guide.verify(found.values, at), found, cooker)


def by_board(guide: Guide, found: Fit, cooker: Any) -> dict[str, Any]:
    """Predicted by the settings that the board holds, its own north among them: where that was set at the
    dish, it counts in place of the file's. The fit tells only what may be missed by."""
    status = guide.hands.read().status
    values = {**from_cooker(cooker), "base_north_deg": float(status["north_deg"])}
    at = course(guide.utc(), 1, cooker)[0]  # now, while the sun stands high enough
    got = judged(guide.verify(values, at), found, cooker)
    return {**got, "north_deg": status["north_deg"], "north_age_h": status["north_age_h"]}


def doubt(proof: dict[str, Any], cooker: Any) -> str:
    """Why the board may point beside what was seen."""
    told, age_h, in_file = proof["north_deg"], proof["north_age_h"], cooker.mount.north_deg
    if age_h >= 0 and abs((told - in_file + 180.0) % 360.0 - 180.0) > _NORTH_DEG:
        return (f"its north, {told:.3f} deg, was set at the dish {age_h:.0f} h ago and counts in place of "
                f"the file's {in_file:.3f}: sight the sun and set it again (sunhob dish set north)")
    return "something moved or slips, or the corrections are not in that file: look, then align again"


def held(hello: dict[str, Any], port: str, cooker: Any) -> None:
    """UserError unless the board holds just what an install of this cooker would put there."""
    kind = KINDS.get(str(hello.get("board")))
    if kind is not None and "holds" in hello:
        with progress() as bar:
            bar.add_task("comparing with what the board holds", total=None)
            if hello["holds"] == mark(all_files(kind, cooker), kind):
                return
    raise UserError(f"port {port}: the board does not hold {cooker.label} as it is now; put it there first: "
                    f"sunhob board install --port {port} --cooker {cooker.label}")
