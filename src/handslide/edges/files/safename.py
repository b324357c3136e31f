"""Names that a file can have on every system."""

import re

# Names that some systems keep for devices.
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|conin|conout|(com|lpt)[\d¹²³])(\..*)?")


def safe_name(text: str) -> str:
    """``text`` as a file name for every system: letters, digits, spaces, ``-`` and ``_``."""
    return no_device(re.sub(r"[^\w \-]", "_", text)[:60].strip(" _") or "x")


def no_device(name: str) -> str:
    """The name, or another where it is one that some systems keep for devices."""
    return f"_{name}" if _DEVICES.fullmatch(name) else name
