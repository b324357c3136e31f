"""Whole folders of parts, and what every part of the studio asks of a student."""
