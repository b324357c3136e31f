"""Level 5: what a teacher keeps: jobs that need the store."""
