"""Settings for all tests."""

from hypothesis import settings

# Derandomised: a run on another day, or another machine, tries the same examples.
settings.register_profile("thumbfall", derandomize=True, deadline=None, max_examples=100)
settings.load_profile("thumbfall")
