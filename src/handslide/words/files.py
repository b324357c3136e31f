"""What is said of files that were written."""

from handslide.words.messages import N_

WRITTEN = N_("written: {path}")
