"""Level 1: air, horn, places, effort, route, reasons, learning. Opens nothing.

Of libraries it needs numpy, scipy and threadpoolctl.
"""
