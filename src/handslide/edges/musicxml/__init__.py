"""Scores as MusicXML: read, marked, cut, written, transposed (lxml)."""
