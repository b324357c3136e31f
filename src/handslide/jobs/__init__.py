"""Level 3: use cases that every face calls."""
