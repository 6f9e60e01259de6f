"""Runs the episodes of a campaign over all cores, or over a cluster. No units."""

from __future__ import annotations

import contextlib
import difflib
import itertools
import random
from collections.abc import Iterator, Sequence
from typing import Any

import joblib
from sunhob.errors import LinkError, UserError

from ..faults.library import BY_NAME, FAULTS
from .episode import Row, run_episode

Job = tuple[int, tuple[str, ...], str]
SINGLE_RUNS_EACH = 5  # of a small campaign
FULL_RUNS = 20_000
PAIRS = tuple(itertools.combinations([fault.name for fault in FAULTS], 2))
SINGLE_FLOATS = 0.1  # share of the episodes on cpython whose firmware reckons in a board's single floats
_STEP = 7919  # a prime that divides no number of pairs here: neighbours in the run are far apart in the list


def _engine(seed: int, engine: str) -> str:
    single = engine == "cpython" and random.Random(f"floats of {seed}").random() < SINGLE_FLOATS
    return "single" if single else engine


def single_jobs(runs: int, seed: int, names: Sequence[str] = (), engine: str = "cpython") -> list[Job]:
    """`runs` episodes of one fault each, every kind in turn."""
    kinds = list(names) or [fault.name for fault in FAULTS]
    return [(seed + k, (kinds[k % len(kinds)],), _engine(seed + k, engine)) for k in range(runs)]


def pair_jobs(runs: int, seed: int, engine: str = "cpython") -> list[Job]:
    """Episodes of two faults: every pair of kinds in turn, begun at a place that the seed chooses."""
    at = [(seed + k * _STEP) % len(PAIRS) for k in range(runs)]
    return [(seed + k, PAIRS[at[k]], _engine(seed + k, engine)) for k in range(runs)]


def known(names: Sequence[str]) -> None:
    """UserError for a fault that is not in the library."""
    for name in names:
        if name not in BY_NAME:
            near = ", ".join(difflib.get_close_matches(name, BY_NAME, 4, 0.5)) or "none"
            raise UserError(f"fault {name}: not in the library; nearest: {near}; all are listed in "
                            "hardware_notes/safety.md")


@contextlib.contextmanager
def backend(cluster: str | None) -> Iterator[None]:
    """joblib's own processes, or the dask scheduler at an address."""
    if cluster is None:
        yield
        return
    try:
        from distributed import Client
    except ImportError:
        raise UserError("cluster: needs the extra; install it with: pip install 'sunhob[cluster]'") from None
    try:
        client: Any = Client(cluster, timeout="10s")
    except (OSError, ValueError) as error:
        raise LinkError(f"cluster {cluster}: no scheduler answers ({' '.join(str(error).split())})") from None
    try:
        with joblib.parallel_config(backend="dask"):
            yield
    finally:
        client.close()


def run_jobs(jobs: Sequence[Job], cores: int, cluster: str | None = None) -> Iterator[Row]:
    """Rows as they come, in any order."""
    if cores == 1 and cluster is None:
        yield from (run_episode(*job) for job in jobs)
        return
    with backend(cluster):
        many = joblib.Parallel(
            n_jobs=-1 if cluster else cores,
            batch_size=1,
            pre_dispatch="4*n_jobs",
            return_as="generator_unordered",
        )
        yield from many(joblib.delayed(run_episode)(*job) for job in jobs)
