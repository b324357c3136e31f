"""Pages that are one file: everything they need is in them, and they ask for nothing."""
