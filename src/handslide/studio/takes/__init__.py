"""Takes: heard, kept, looked at again, live."""
