"""Horns as studios of schema version 1 stored them: ours had their English titles in them.

Now a horn of ours names its model, and is called so in the reader's language.
"""

import re

MODELS = {
    "Tenor trombone in B♭": "tenor",
    "Tenor trombone in B♭ with F valve": "tenor-f",
    "Tenor trombone in B♭ with F valve and long slide": "tenor-f-long",
    "Tenor trombone in B♭ with valve pulled to E": "tenor-e",
    "Bass trombone in B♭ with independent F and G♭ valves": "bass-independent",
    "Bass trombone in B♭ with F valve and dependent D valve": "bass-dependent",
    "Alto trombone in E♭": "alto",
    "Alto trombone in E♭ with B♭ valve": "alto-bb",
    "Soprano trombone in B♭": "soprano",
    "Compact tenor trombone in B♭ with C valve": "tenor-c-bb",
    "Contrabass trombone in F with C and D♭ valves": "contrabass-f",
}
_TITLE = re.compile(r'^title = "(.*)"$', re.MULTILINE)


def horn_of_version_1(toml: str) -> str:
    """The text of a horn file with its model in the place of the title that ours had."""

    def model(title: re.Match[str]) -> str:
        return f'model = "{MODELS[title[1]]}"' if title[1] in MODELS else title[0]

    return _TITLE.sub(model, toml, count=1)
