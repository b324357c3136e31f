"""Level 2: one outside library or file kind each."""
