"""What a form sends: bounded, and no name of a file is trusted."""

import unicodedata
from dataclasses import dataclass
from typing import BinaryIO

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request

from handslide.ground.errors import BadData
from handslide.ground.limits import FILE_NAME_LETTERS, FORM_FIELD_BYTES, FORM_FIELDS, FORM_FILES
from handslide.ground.system import system_reason

# Where a request keeps its forms for the guard to close.
FORMS = "handslide.forms"


@dataclass(frozen=True)
class Upload:
    """A file that was sent: its cleaned name, its bytes."""

    name: str
    data: bytes


async def form_of(request: Request) -> FormData:
    """The fields and files of a form, within limits. Call it again for the same answer.

    Its files are closed, and so deleted, when the request ends.
    """
    try:
        form = await request.form(
            max_files=FORM_FILES, max_fields=FORM_FIELDS, max_part_size=FORM_FIELD_BYTES
        )
    except OSError as error:  # where files are held until they are read
        raise BadData("web.no_room", reason=system_reason(error)) from error
    request.scope.setdefault(FORMS, []).append(form)
    return form


async def upload(request: Request, field: str, most_bytes: int) -> Upload | None:
    """The file of ``field``; None if none was chosen. Raises BadData when it is too large."""
    found = await uploads(request, field, most_bytes)
    return found[0] if found else None


async def uploads(request: Request, field: str, most_bytes: int) -> list[Upload]:
    """All files of ``field``, in their order. Raises BadData when one is larger than
    ``most_bytes``.
    """
    found = []
    for sent in await _sent(request, field, most_bytes):
        found.append(Upload(clean_name(sent.filename or ""), await sent.read()))
    return found


async def upload_file(request: Request, field: str, most_bytes: int) -> tuple[str, BinaryIO] | None:
    """Cleaned name and open file of ``field``, for what is too large for memory: as `upload`.

    The file is deleted when the request ends.
    """
    sent = await _sent(request, field, most_bytes)
    return (clean_name(sent[0].filename or ""), sent[0].file) if sent else None


async def _sent(request: Request, field: str, most_bytes: int) -> list[UploadFile]:
    form = await form_of(request)
    # A browser sends an empty file without a name for a field where none was chosen.
    found = [each for each in form.getlist(field) if isinstance(each, UploadFile) and each.filename]
    for each in found:
        if (each.size or 0) > most_bytes:
            name = clean_name(each.filename or "")
            raise BadData("web.large_file", file=name, most_mb=most_bytes / 1e6)
    return found


def clean_name(name: str) -> str:
    """The last part of a file's name without signs that hide, turn or end words, cut to length.

    >>> clean_name("../../etc/passwd")
    'passwd'
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    # Cc: control; Cf: among others those that turn the direction of writing; Cs, Co, Cn: no signs.
    kept = "".join(sign for sign in last if unicodedata.category(sign)[0] != "C")
    kept = unicodedata.normalize("NFC", kept).strip().lstrip(".").strip()
    if not kept:
        return "file"
    if len(kept) <= FILE_NAME_LETTERS:
        return kept
    stem, dot, ending = kept.rpartition(".")
    if not dot or len(ending) > 12:
        return kept[:FILE_NAME_LETTERS]
    return stem[: FILE_NAME_LETTERS - len(ending) - 1] + "." + ending
