"""Level 0: errors, units, pitch."""
