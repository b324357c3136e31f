"""Where a user's own horns and profiles are kept."""

import os
from pathlib import Path

import platformdirs

HOME_VARIABLE = "HANDSLIDE_HOME"


def user_folder() -> Path:
    """The user's data folder: ``HANDSLIDE_HOME`` if set, else the system's usual place."""
    chosen = os.environ.get(HOME_VARIABLE)
    return Path(chosen) if chosen else platformdirs.user_data_path("handslide", appauthor=False)


def user_files(kind: str) -> dict[str, Path]:
    """The user's own TOML files of a kind (``horns``, ``profiles``), by name."""
    folder = user_folder() / kind
    if not folder.is_dir():
        return {}
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}
