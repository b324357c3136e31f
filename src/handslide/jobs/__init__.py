"""Level 4: stateless use cases that every face calls, by what a teacher does."""
