"""Settings of the whole suite. A busy machine is no reason for a test to fail: nothing here is timed.

Examples are the same in every run, so that a change and not chance decides; SUNHOB_HYPOTHESIS=random draws
new ones, which is worth doing by night.
"""

import os

from hypothesis import HealthCheck, settings

CALM = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("same", derandomize=True, **CALM)
settings.register_profile("random", **CALM)
settings.load_profile(os.environ.get("SUNHOB_HYPOTHESIS", "same"))
