"""Takes whose truth is known exactly: when each note begins and ends, and how high it is."""
