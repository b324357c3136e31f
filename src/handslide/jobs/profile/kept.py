"""A teacher's profile in the user's folder: what it is learnt from, and what is learnt from that.

``NAME.examples.json`` is written first, then ``NAME.toml``, which is made of it and of the name of
the profile that it began from, and of nothing else. Where the program ends between the two, the
next command makes the second again.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from handslide.edges.files.examples import examples_json, read_examples
from handslide.edges.files.filelock import hold
from handslide.edges.files.outfile import write_result
from handslide.edges.files.plainfile import NotPlain, TooLarge, read_plain
from handslide.edges.files.profiles import (
    BY_HORN,
    PROFILE_FILES,
    LearntProfile,
    learnt_toml,
    load_profile,
    read_profile,
)
from handslide.edges.files.safename import safe_name
from handslide.edges.files.userfolder import user_folder
from handslide.ground.errors import BadData, BadUsage
from handslide.ground.limits import EXAMPLES_BYTES
from handslide.ground.system import system_reason
from handslide.instrument.horn import Horn
from handslide.instrument.learning.example import Examples
from handslide.instrument.learning.learn import Learnt, learn
from handslide.instrument.learning.weights import Factors
from handslide.instrument.profile import Profile

PATIENCE_S = 60.0
"""Of waiting for another handslide that learns the same profile."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A profile's examples, and the name of the profile that it began from."""

    name: str
    began_from: str
    examples: Examples

    def base(self, horn: Horn) -> Profile:
        """The profile that it began from, on a horn."""
        return load_profile(self.began_from, horn)

    def factors(self) -> Factors:
        """What its file has of it now. Raises BadData."""
        if self.name not in PROFILE_FILES.known:
            return Factors()
        found = PROFILE_FILES.load(self.name, read_profile)
        return found.factors if isinstance(found, LearntProfile) else Factors()

    def learnt(self) -> Learnt:
        """What is learnt from the examples."""
        return learn(self.examples, self.base)


@dataclass(frozen=True, slots=True)
class Learned:
    """A profile that was learnt from what is kept, and its file."""

    kept: Kept
    learnt: Learnt
    path: Path


def check_name(name: str) -> None:
    """Raise BadUsage for a name that a profile of the user's can't have."""
    if name == BY_HORN or name in PROFILE_FILES.ours:
        raise BadUsage("profile.name_of_ours", name=name)
    if name.startswith("-") or safe_name(name) != name:
        raise BadUsage("profile.bad_name", name=name)
    for other in PROFILE_FILES.known:
        # On some systems these are one file.
        if other != name and other.casefold() == name.casefold():
            raise BadUsage("profile.name_near", name=name, other=other)


def open_kept(name: str, base: str | None = None) -> Kept:
    """What is kept of a profile; nothing yet where it is new. It began from ``base``, else from
    what its file says, else from that of the horn.

    Raises
    ------
    BadUsage
        A name that it can't have, or that of a profile which wasn't learnt here.
    BadData
        A file that can't be read, a base that can't be.
    """
    check_name(name)
    path = examples_path(name)
    examples = _read(path)
    began_from = BY_HORN
    if name in PROFILE_FILES.known:
        found = PROFILE_FILES.load(name, read_profile)
        if isinstance(found, Profile):
            raise BadUsage("profile.not_learnt", name=name)
        if examples is None:
            raise BadUsage("profile.learnt_elsewhere", name=name, path=str(path))
        began_from = found.began_from
    if base is not None:
        began_from = base
        _check_base(name, base)
    return Kept(name, began_from, examples or Examples())


def find_kept(name: str, base: str | None = None) -> Kept:
    """What is kept of a profile that is there. Raises as `open_kept`, BadData where it isn't."""
    kept = open_kept(name, base)
    if not examples_path(name).exists():
        raise BadData("profile.no_examples", name=name)
    return kept


def examples_path(name: str) -> Path:
    """The file of a profile's examples."""
    return user_folder() / PROFILE_FILES.folder / f"{name}.examples.json"


def profile_path(name: str) -> Path:
    """The file of a profile of the user's."""
    return user_folder() / PROFILE_FILES.folder / f"{name}.toml"


@contextmanager
def held(name: str, *, new: bool = False) -> Iterator[None]:
    """Hold a profile's files: nobody else changes them meanwhile. ``new``: it may be one that isn't
    there. Raises as `find_kept`, OutputError."""
    check_name(name)
    if not new:
        find_kept(name)  # for a name that was mistyped nothing is made
    with hold(user_folder() / PROFILE_FILES.folder / f".{name}.lock", PATIENCE_S):
        yield


def change(
    name: str, edit: Callable[[Examples], Examples], base: str | None = None, *, new: bool = False
) -> Learned:
    """Change a profile's examples and learn it from them; ``new``: it may be one that isn't there.

    Raises as `open_kept`, OutputError where its files can't be written, and what ``edit`` raises.
    """
    with held(name, new=new):
        kept = (open_kept if new else find_kept)(name, base)
        kept = Kept(name, kept.began_from, edit(kept.examples))
        data = examples_json(kept.examples)
        write_result(examples_path(name), data, force=True)
        learnt = kept.learnt()
        return Learned(kept, learnt, _write(kept, learnt.factors))


def reset(name: str) -> tuple[Kept, Path]:
    """Make a profile what it began from; its examples stay. Raises as `change`."""
    with held(name):
        kept = find_kept(name)
        return kept, _write(kept, Factors())


def put_learnt(name: str, factors: Factors) -> Path:
    """Keep what was learnt elsewhere as a profile that began from that of the horn.

    One that was put there so before is replaced. Gives the file.

    Raises
    ------
    BadUsage
        A name that it can't have, or that of another profile.
    BadData, OutputError
        A file of that name that can't be read, one that can't be written.
    """
    with held(name, new=True):
        if name in PROFILE_FILES.known:
            if isinstance(PROFILE_FILES.load(name, read_profile), Profile):
                raise BadUsage("profile.not_learnt", name=name)
            if examples_path(name).exists():
                raise BadUsage("profile.has_examples", name=name)
        return _write(Kept(name, BY_HORN, Examples()), factors)


def _write(kept: Kept, factors: Factors) -> Path:
    path = profile_path(kept.name)
    profile = LearntProfile(kept.name, kept.name, kept.began_from, factors)
    write_result(path, learnt_toml(profile).encode(), force=True)
    return path


def _read(path: Path) -> Examples | None:
    try:
        data = read_plain(path, EXAMPLES_BYTES)
    except FileNotFoundError:
        return None
    except (NotPlain, TooLarge, IsADirectoryError) as error:
        raise BadData("profile.examples_damaged", path=str(path)) from error
    except OSError as error:
        reason = system_reason(error)
        raise BadData("profile.unreadable", path=str(path), reason=reason) from error
    return read_examples(data, str(path))


def _check_base(name: str, base: str) -> None:
    """Raise BadUsage, BadData for what a profile can't begin from."""
    if base != BY_HORN and base not in PROFILE_FILES.known:
        known = ", ".join((BY_HORN, *PROFILE_FILES.known))
        raise BadUsage("profile.began_from", name=base, known=known)
    chain = [name, base]
    while chain[-1] != BY_HORN:
        if chain[-1] in chain[:-1]:
            raise BadUsage("profile.circle", name=name, chain=tuple(chain))
        found = PROFILE_FILES.load(chain[-1], read_profile)
        if isinstance(found, Profile):
            break
        chain.append(found.began_from)
