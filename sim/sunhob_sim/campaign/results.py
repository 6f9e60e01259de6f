"""The result file of a campaign: one line an episode, kept as they come, so that a stopped one can go on."""

from __future__ import annotations

import csv
import json
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import IO, Any

from sunhob.errors import UserError

from ..faults.library import BY_NAME
from .episode import COLUMNS, Row, replay_command
from .explained import is_explained, reasons
from .rate import rule_of_three, upper_limit

_TYPES: dict[str, Callable[[str], Any]] = {
    "seed": int,
    "stranded": int,
    "cannot_leave": int,
    "told": int,
    "detected": lambda text: text == "True",
    "latitude_deg": float,
    "fault_at_s": float,
    "severity": float,
    "noticed_s": float,
    "pot_s": float,
    "light_s": float,
    "loose_s": float,
    "wall_s": float,
}


class Results:
    """Rows in a CSV file, appended whole line by whole line; those there already are read back."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.rows: list[Row] = []
        self._file: IO[str] | None = None
        if path.exists():
            self._read()

    def _read(self) -> None:
        whole = self.path.read_text(encoding="utf-8")
        kept = whole[: whole.rfind("\n") + 1]  # a line cut short by a crash is dropped and run again
        lines = list(csv.DictReader(kept.splitlines()))
        if lines and tuple(lines[0]) != COLUMNS:
            raise UserError(f"{self.path}: is no result file of this version; give another --out")
        self.rows = [Row(**{k: _TYPES.get(k, str)(v) for k, v in line.items()}) for line in lines]
        if kept != whole:
            self.path.write_text(kept, encoding="utf-8")

    def done(self) -> set[tuple[int, str, str]]:
        """(seed, faults, engine) of the episodes that are there."""
        return {(row.seed, row.faults, row.engine) for row in self.rows}

    def add(self, row: Row) -> None:
        """Keep a row, on disk at once."""
        if self._file is None:
            fresh = not self.path.exists() or not self.path.stat().st_size
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._file = self.path.open("a", encoding="utf-8", newline="")
            if fresh:
                csv.writer(self._file, lineterminator="\n").writerow(COLUMNS)
        csv.writer(self._file, lineterminator="\n").writerow(row.as_dict().values())
        self._file.flush()
        self.rows.append(row)

    def close(self) -> None:
        """Let the file go."""
        if self._file is not None:
            self._file.close()
            self._file = None


def summary(rows: Iterable[Row], seed: int) -> dict[str, Any]:
    """The keys of `bench campaign --json`: runs, hazards, by_fault, by_pair, limits on the rate."""
    rows = list(rows)
    by: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        for name in row.faults.split("+"):
            by[name].append(row)
    bad = [row for row in rows if row.hazards]
    return {
        "runs": len(rows),
        "hazards": len(bad),
        "unexplained": sum(not is_explained(row) for row in bad),
        "stranded": sum(row.stranded > 0 for row in rows),
        "cannot_leave": sum(row.cannot_leave > 0 for row in rows),
        "undetected": sum(not row.detected for row in bad),
        "hazard_rate_upper_95": upper_limit(len(bad), len(rows)),
        "rule_of_three": rule_of_three(len(rows)),
        "by_engine": dict(Counter(row.engine for row in rows)),
        "by_kind": dict(Counter(kind for row in bad for kind in row.hazards.split("+"))),
        "by_fault": {name: _of_fault(some) for name, some in sorted(by.items())},
        "by_pair": [_of_pair(row) for row in bad if "+" in row.faults],
        "wall_s": round(sum(row.wall_s for row in rows), 1),
        "seed": seed,
    }


def _of_fault(rows: list[Row]) -> dict[str, Any]:
    """One fault's share. The times are the worst of the episodes in which a drive could have left [s]."""
    free = [row for row in rows if not row.stranded and not row.cannot_leave]
    return {
        "runs": len(rows),
        "hazards": sum(bool(row.hazards) for row in rows),
        "undetected": sum(bool(row.hazards) and not row.detected for row in rows),
        "detected": sum(row.detected for row in rows),
        "stranded": sum(row.stranded > 0 for row in rows),
        "cannot_leave": sum(row.cannot_leave > 0 for row in rows),
        "signs": dict(Counter(row.sign for row in rows if row.sign).most_common()),
        "worst_seconds_to_notice": _worst(row.noticed_s for row in free),
        "worst_seconds_to_pot_clear": _worst(row.pot_s for row in free),
        "worst_seconds_to_light_clear": _worst(row.light_s for row in free),
        "worst_seconds_to_safe": max((row.loose_s for row in free), default=0.0),
    }


def _worst(times: Iterable[float]) -> float | None:
    return max((one for one in times if one >= 0.0), default=None)


def _of_pair(row: Row) -> dict[str, Any]:
    return {"pair": row.faults, "seed": row.seed, "hazards": row.hazards, "because": row.because,
            "detected": row.detected, "reason": reasons(row), "replay": replay_command(row)}


def write_summary(path: Path, found: dict[str, Any]) -> None:
    """The summary as JSON beside the rows."""
    path.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


def measured(rows: Iterable[Row]) -> dict[str, Any]:
    """What the hazard analysis of the notes keeps of a campaign of single faults: no dates, no machine."""
    rows = sorted((row for row in rows if row.faults in BY_NAME), key=lambda row: row.seed)
    found = summary(rows, rows[0].seed if rows else 0)
    reasons_of: dict[str, dict[str, None]] = defaultdict(dict)
    for row in rows:
        reasons_of[row.faults].update(dict.fromkeys(one for one in reasons(row).values() if one))
    return {
        "episodes": len(rows),
        "seeds": _spans([row.seed for row in rows]),
        "engines": found["by_engine"],
        **{key: found[key] for key in ("hazards", "undetected", "stranded", "cannot_leave",
                                         "hazard_rate_upper_95")},
        "faults": {
            name: {"words": BY_NAME[name].words, **row, "reasons": list(reasons_of[name])}
            for name, row in found["by_fault"].items()
        },
    }


def _spans(seeds: list[int]) -> str:
    """Runs of seeds on end, as '1 to 505, 900 to 999'."""
    out: list[list[int]] = []
    for seed in seeds:
        if out and seed - out[-1][1] <= 1:
            out[-1][1] = seed
        else:
            out.append([seed, seed])
    return ", ".join(f"{low} to {high}" for low, high in out)


def write_measured(path: Path, rows: Iterable[Row]) -> None:
    """The figures for the notes, one fault a line."""
    found = measured(rows)
    faults = found.pop("faults")
    lines = ",\n".join(f"  {json.dumps(name)}: {json.dumps(row)}" for name, row in faults.items())
    head = json.dumps(found, indent=1)[:-2]
    path.write_text(f'{head},\n "faults": {{\n{lines}\n }}\n}}\n', encoding="utf-8")
