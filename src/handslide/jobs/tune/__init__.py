"""Tuning advice and fitted horns."""
