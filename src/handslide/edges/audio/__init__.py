"""Sound in and out of files (soundfile, PyAV)."""
