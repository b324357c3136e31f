"""Level 4: the command line."""
