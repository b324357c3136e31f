"""Of a test with many cases, those that the suite runs; `make sweep` runs all of them."""

import math
import os
import random
from collections import defaultdict

ALL = bool(os.environ.get("HANDSLIDE_SWEEP_CASES"))


def chosen(cases, name):
    """Some of ``cases``, each a mapping from parameters to their values' names; as their places.

    Of a single parameter's values a third; of several each value is met once at least ("each
    choice": Ammann and Offutt, Introduction to Software Testing, ch. 6, from memory), and a quarter
    of the cases. The same ``name`` gives the same.
    """
    order = list(range(len(cases)))
    random.Random(name).shuffle(order)
    if len(cases[0]) == 1:
        return sorted(order[: math.ceil(len(order) / 3)])
    unmet, kept = {value for case in cases for value in case.items()}, []
    while unmet or 4 * len(kept) < len(cases):
        best = max(order, key=lambda at: len(unmet & cases[at].items()))
        order.remove(best)
        kept.append(best)
        unmet -= cases[best].items()
    return sorted(kept)


def pytest_collection_modifyitems(config, items):
    """Of each test that is marked ``sample`` the chosen cases; who names a test gets all."""
    if ALL or config.option.keyword or any("::" in word for word in config.args):
        return
    tests = defaultdict(list)
    for item in items:
        # One without cases looks itself at `ALL`.
        if item.get_closest_marker("sample") and hasattr(item, "callspec"):
            tests[item.nodeid.partition("[")[0]].append(item)
    left_out = set()
    for name, cases in tests.items():
        values = [
            {key: repr(value) for key, value in case.callspec.params.items()} for case in cases
        ]
        left_out |= set(cases) - {cases[at] for at in chosen(values, name)}
    config.hook.pytest_deselected(items=[item for item in items if item in left_out])
    items[:] = [item for item in items if item not in left_out]
