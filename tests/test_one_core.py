"""A run on one core: it stays there, and what was allowed before is allowed again."""

import os
import subprocess
import sys

import pytest
from sunhob_sim.one_core import one_core

pytestmark = pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="this system names no cores")
ASK = [sys.executable, "-c", "import os; print(len(os.sched_getaffinity(0)))"]


def test_it_and_what_it_starts_stay_on_one_core_and_are_let_go_again():
    before = os.sched_getaffinity(0)
    with pytest.raises(ZeroDivisionError), one_core():
        assert len(os.sched_getaffinity(0)) == 1 and os.sched_getaffinity(0) <= before
        assert subprocess.run(ASK, capture_output=True, text=True, check=True).stdout.strip() == "1"
        raise ZeroDivisionError
    assert os.sched_getaffinity(0) == before
