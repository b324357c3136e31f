"""A short run of the fuzzing, the same each time; the long one is ``make fuzz MINUTES=60``."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from targets import TARGETS


# What soundfile says when a header makes it seek before the beginning; the reading goes on.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize("name", [name for name, target in TARGETS.items() if target.cases])
def test_nothing_that_comes_in_stops_it(name):
    target = TARGETS[name]

    @settings(
        max_examples=target.cases, derandomize=True, database=None, deadline=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(st.randoms(use_true_random=False))
    def run(chance):
        target(target.case(chance))

    run()
