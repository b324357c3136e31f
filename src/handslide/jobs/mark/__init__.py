"""Notes and parts to places: choosing, marking, reporting."""
