"""A library of parts: every part of every score in a folder, marked for each horn or student."""
