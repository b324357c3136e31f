"""``python -m handslide`` runs the command line."""

from handslide.faces.cli.main import main

main()
