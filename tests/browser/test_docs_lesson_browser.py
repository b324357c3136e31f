"""The first lesson in the studio, followed press by press as its page tells."""

import re
import sys
from pathlib import Path

import pytest

from browser import serving
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "scripts"))

import follow_lesson  # noqa: E402

TEXT = (follow_lesson.LESSONS / "studio.md").read_text(encoding="utf-8")
PNG = b"\x89PNG\r\n\x1a\n"


def test_the_lesson_goes_as_it_is_told(browser, tmp_path):
    pictures = {}
    studio = open_studio(tmp_path / "studio")
    with serving(studio) as address:
        follow_lesson.follow_studio(TEXT, browser, address, pictures.__setitem__)
    studio.close()
    assert all(data.startswith(PNG) for data in pictures.values())
    shown = re.findall(r"\]\((\w+)\.png\)", TEXT)
    assert shown == list(pictures)
    assert {path.stem for path in follow_lesson.LESSONS.glob("*.png")} == set(shown)


def test_what_the_page_names_is_what_is_pressed():
    done = " ".join(words for _, _, words in follow_lesson.steps(TEXT))
    told = TEXT.partition("## 1.")[2].partition("**From here:**")[0]
    named = re.findall(r"\*\*([^*]+)\*\*", re.sub(r"<!--.*?-->", "", told))
    later = {"PDF", "Marked score"}
    assert len(named) > 8
    assert [name for name in named if name not in later and name not in done] == []
