"""Music to pages of notation (Verovio)."""
