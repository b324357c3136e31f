"""Parts moved by an interval."""
