"""``python -m handslide`` runs the command line."""

from handslide.faces.cli.start import main

main()
