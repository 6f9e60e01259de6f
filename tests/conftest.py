"""Settings of the whole suite. A busy machine is no reason for a test to fail: nothing here is timed."""

from hypothesis import HealthCheck, settings

settings.register_profile("sunhob", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("sunhob")
