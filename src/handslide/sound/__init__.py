"""Level 1, the other wing: pitch track, notes of a take, following a part. Knows no horns."""
