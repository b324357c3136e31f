"""Where the command line begins: who only asks what it can do waits for nothing else."""

import os
import sys


def main() -> None:
    """Run the command line; what it can do is said without loading what it takes to do it."""
    if not (sys.argv[1:] in (["--help"], ["-h"]) and _said()):
        from handslide.faces.cli.main import main as run

        run()


def _said() -> bool:
    from handslide.faces.cli.overview import columns, overview

    try:
        # Past the buffer: where nobody reads on or the disk is full, nothing is left in it for the
        # long way, which knows how to end.
        os.write(sys.stdout.fileno(), f"{overview(columns())}\n".encode())
    except (OSError, AttributeError):
        return False
    return True
