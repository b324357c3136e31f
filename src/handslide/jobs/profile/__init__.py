"""What a teacher chose, from parts, and the profile that is learnt from it."""
