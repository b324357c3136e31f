"""What the command that opens the studio says in the terminal."""

from handslide.words.messages import N_

RUNS_ALREADY = N_("The studio runs already, at {url}; it was started in another window.")
OPEN = N_("The studio is open at {url} (its data: {folder}). Ctrl-C closes it.")
CLOSED = N_("The studio is closed; all is saved.")
# Translators: asks for a password that is typed in the terminal.
PASSWORD = N_("A password for other machines")
