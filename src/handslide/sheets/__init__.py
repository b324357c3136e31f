"""Level 2: drawn sheets as pure functions to shapes in millimetres."""
