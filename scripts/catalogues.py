"""Collect the messages of the code and the templates into each language's catalogue.

What is new stands there without a translation; what is gone goes. `tests/unit/test_catalogues.py`
finds what a translator has not done yet.
"""

from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parents[1]
LOCALE = ROOT / "src" / "handslide" / "words" / "locale"
KEYWORDS = {
    "N_": None, "NN_": (1, 2), "NP_": ((1, "c"), 2), "NNP_": ((1, "c"), 2, 3),
    "_": None, "n_": (1, 2), "p_": ((1, "c"), 2), "np_": ((1, "c"), 2, 3),
}  # fmt: skip
# No date of making in the files: they change when their messages do.
_DATED = datetime(2026, 1, 1, tzinfo=UTC)


def extracted() -> Catalog:
    """All messages, with the files where they stand and what their authors say of them.

    Raises ValueError for two messages that gettext can't tell apart: one text, in its context, has
    two plurals, or one and none.
    """
    with (ROOT / "babel.cfg").open(encoding="utf-8") as file:
        methods, options = parse_mapping_cfg(file)
    found = Catalog(project="handslide", charset="utf-8", creation_date=_DATED)
    plurals: dict[tuple[str | None, str], str | None] = {}
    for name, _, message, comments, context in extract_from_dir(
        ROOT, methods, options, keywords=KEYWORDS, comment_tags=("Translators:",)
    ):
        one, many = (message, None) if isinstance(message, str) else message
        if plurals.setdefault((context, one), many) != many:
            raise ValueError(f"{name}: {one!r} is another message elsewhere: give it a context")
        found.add(
            message, None, [(name, None)], auto_comments=comments, context=context,
            flags=("python-brace-format",) if "{" in str(message) else (),
        )  # fmt: skip
    return found


def update(file: Path, template: Catalog) -> Catalog:
    """The catalogue in ``file`` brought up to date with ``template``, and written."""
    code = file.parents[1].name
    if file.exists():
        with file.open("rb") as source:
            catalogue = read_po(source, locale=code)
    else:
        catalogue = Catalog(locale=code, project="handslide", charset="utf-8")
    catalogue.fuzzy = False
    catalogue.header_comment = f"# handslide: the messages in {catalogue.locale.english_name}."
    catalogue.revision_date = _DATED
    # A catalogue keeps the messages that it is given: each language has its own.
    catalogue.update(deepcopy(template), no_fuzzy_matching=True)
    catalogue.obsolete.clear()
    with file.open("wb") as target:
        write_po(target, catalogue, width=100, sort_output=True, omit_header=False,
                 ignore_obsolete=True)  # fmt: skip
    return catalogue


if __name__ == "__main__":
    template = extracted()
    for folder in sorted(path for path in LOCALE.iterdir() if path.is_dir()):
        (folder / "LC_MESSAGES").mkdir(exist_ok=True)
        done = update(folder / "LC_MESSAGES" / "handslide.po", template)
        lacking = sum(not m.string or m.string == ("", "") for m in done if m.id)
        print(f"{folder.name}: {len(done)} messages, {lacking} to be translated")
