"""Level 1: air, horn, places, effort, route, reasons. Needs numpy and scipy only; opens nothing."""
