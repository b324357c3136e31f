"""Video: pictures and sound to a file, by an FFmpeg that is found on the machine."""
