"""A horn fitted to notes at known extensions."""
