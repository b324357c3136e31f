"""Run a program and measure its peak memory, whatever the tests before have used."""

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

# A child begins with the peak of the process that starts it (Linux keeps it over fork and exec),
# so a small process stands between the tests and the program.
_BETWEEN = """
import json, os, subprocess, sys
done = subprocess.Popen(sys.argv[1:], stdout=subprocess.PIPE)
out = done.stdout.read().decode()
_, status, used = os.wait4(done.pid, 0)
done.returncode = os.waitstatus_to_exitcode(status)
json.dump([done.returncode, used.ru_maxrss, out], sys.stdout)
"""


def peaked(words: Sequence[str | Path]) -> tuple[int, int, str]:
    """Return the exit code, the peak memory in bytes and the standard output of `handslide …`."""
    command = [sys.executable, "-c", _BETWEEN, sys.executable, "-m", "handslide", *map(str, words)]
    told = subprocess.run(command, stdout=subprocess.PIPE, check=True).stdout
    code, peak, out = json.loads(told)
    # In kB, in bytes on a Mac.
    return code, peak * (1 if sys.platform == "darwin" else 1024), out
