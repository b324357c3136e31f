"""``python -m handslide`` runs the command line."""

from handslide.faces.cli import main

main()
