"""Level 1: air, horn, places, effort, route, reasons. Needs numpy, scipy and threadpoolctl only; opens nothing."""
