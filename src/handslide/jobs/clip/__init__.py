"""A part as a video: the music passes, the slide moves, and what is seen is heard."""
