"""What was made of a library and what is still to do: one SQLite file, and the only SQL for it."""
