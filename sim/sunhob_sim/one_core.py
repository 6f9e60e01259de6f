"""Two processes that take turns, each waiting for the other, kept on one processor core.

Units: none. Woken on another core that has gone to sleep, each would wait several times as long as its turn
lasts. Only for a run that has the machine to itself: it leaves the other cores to others.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_CORE_FIELD = 36  # of /proc/self/stat after the name: the core it ran on last (man page proc_pid_stat, 39)


def _present_core(allowed: set[int]) -> int:
    """The core this process runs on, or one it may run on."""
    try:
        told = int(Path("/proc/self/stat").read_text("ascii").rpartition(")")[2].split()[_CORE_FIELD])
    except (OSError, ValueError, IndexError):
        return min(allowed)
    return told if told in allowed else min(allowed)


@contextmanager
def one_core() -> Iterator[None]:
    """Within it this process and those it starts stay on one core, where the system can do that."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {_present_core(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)
