"""Hand-outs: what a teacher gives away as one file that plays, shows the slide and prints."""
