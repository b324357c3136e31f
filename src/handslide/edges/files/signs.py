"""Shapes that a user has named once: their kinds by mark, in the user's folder."""

import json
from collections.abc import Mapping

from handslide.edges.files.outfile import write_result
from handslide.edges.files.plainfile import read_plain
from handslide.edges.files.toml import WrongToml, parse_toml
from handslide.edges.files.userfolder import user_folder
from handslide.ground.errors import BadData
from handslide.ground.limits import TYPED_BYTES
from handslide.ground.system import system_reason

_NAME = "signs.toml"


def known_signs() -> dict[str, str]:
    """The kinds of shapes by mark; none where nothing was named yet.

    Raises
    ------
    BadData
        When the file can't be read.
    """
    path = user_folder() / _NAME
    try:
        table = parse_toml(read_plain(path, TYPED_BYTES).decode("utf-8"))
    except FileNotFoundError:
        return {}
    except (UnicodeDecodeError, WrongToml) as error:
        raise BadData("pdfmarks.signs_damaged", path=str(path)) from error
    except OSError as error:
        reason = system_reason(error)
        raise BadData("scores.unreadable", file=str(path), reason=reason) from error
    if not all(isinstance(kind, str) for kind in table.values()):
        raise BadData("pdfmarks.signs_damaged", path=str(path))
    return dict(table)


def remember_signs(signs: Mapping[str, str]) -> None:
    """Keep the kinds of these shapes beside those that are known. Raises BadData, OutputError."""
    kept = known_signs() | dict(signs)
    lines = [f"{json.dumps(mark)} = {json.dumps(kind)}" for mark, kind in sorted(kept.items())]
    write_result(user_folder() / _NAME, ("\n".join(lines) + "\n").encode(), force=True)
