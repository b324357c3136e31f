"""Names that a file can have on every system."""

import re

# Names that some systems keep for devices.
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def safe_name(text: str) -> str:
    """``text`` as a file name for every system: letters, digits, spaces, ``-`` and ``_``."""
    name = re.sub(r"[^\w \-]", "_", text)[:60].strip(" _") or "x"
    return f"_{name}" if _DEVICES.fullmatch(name) else name
