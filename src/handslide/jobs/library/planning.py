"""What is to be made of a library: for each part that is taken and each player one target."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import PurePosixPath
from typing import Any

from handslide import __version__
from handslide.edges.files.partchoice import PartChoices
from handslide.edges.files.safename import safe_name
from handslide.edges.manifest.manifest import SourceRow, TargetRow
from handslide.ground.errors import BadData
from handslide.ground.facts import Fact
from handslide.jobs.library.choosing import Chosen, choose_parts, look_of_json
from handslide.jobs.library.players import Player
from handslide.jobs.library.wishes import LibraryWishes, names_of
from handslide.jobs.mark.mark import MarkOptions

# To be raised when the same input gives other results though the version is the same.
_FORM = 1


@dataclass(frozen=True, slots=True)
class Plan:
    """The targets, with the options of each task's part by its key; what was chosen of each file;
    and where what a person asked for isn't there."""

    targets: tuple[TargetRow, ...]
    options: Mapping[str, MarkOptions]
    chosen: tuple[tuple[str, Chosen], ...]
    problems: tuple[tuple[str, Fact], ...]


def reading_key(content: str, path: str) -> str:
    """What reading a file depends on."""
    return task_key(["read", content, PurePosixPath(path).suffix.lower()])


def plan_targets(
    wishes: LibraryWishes,
    sources: Iterable[SourceRow],
    read: Mapping[str, Any],
    choices: PartChoices,
) -> Plan:
    """Plan it. ``read`` has what was read of each file, by the key of reading it; files that aren't
    in it couldn't be."""
    rows = [row for row in sources if row.key in read]
    stems = names_of([row.path for row in rows])
    players = [
        (player, task_key([player.about, _speaks(wishes, player)])) for player in wishes.players
    ]
    taken: set[str] = set()
    targets: list[TargetRow] = []
    options: dict[str, MarkOptions] = {}
    chosen: list[tuple[str, Chosen]] = []
    problems: list[tuple[str, Fact]] = []
    for row in rows:
        found, choice = read[row.key], choices.of(row.path)
        looks = [look_of_json(look) for look in found["parts"]]
        try:
            parts = choose_parts(looks, choice)
        except BadData as error:
            problems.append((row.path, error.fact))
            continue
        chosen += [(row.path, part) for part in parts]
        named = wishes.pdf and not found["titled"]
        stem = PurePosixPath(row.path).stem if named else ""
        for part in (part for part in parts if part.taken):
            asked = replace(wishes.options, part=part.look.part_id)
            if choice.sounds is not None:
                asked = replace(asked, sounds=choice.sounds)
            middle = f"-{safe_name(part.look.name)}" if len(parts) > 1 else ""
            for player, fingerprint in players:
                mine = replace(asked, student=player.student if wishes.pdf else "")
                key = task_key(["mark", row.key, stem, fingerprint, asdict(mine), wishes.pdf])
                path = _free(f"{stems[row.path]}{middle}-{player.label}", taken)
                targets.append(
                    TargetRow(path, key, row.path, part.look.part_id, part.look.name, player.label)
                )
                options[key] = mine
    return Plan(tuple(targets), options, tuple(chosen), tuple(problems))


def _speaks(wishes: LibraryWishes, player: Player) -> list[str | None]:
    """What a player's sheets depend on; the marks themselves know no language."""
    return [player.played.language, player.played.names] if wishes.pdf else []


def _free(path: str, taken: set[str]) -> str:
    """The path, or with a number where another part has it on a system that knows no capitals."""
    found, number = path, 1
    while found.casefold() in taken:
        number += 1
        found = f"{path}-{number}"
    taken.add(found.casefold())
    return found


def task_key(value: Any) -> str:
    """What a task is known by: ``value`` is all that its result depends on, as JSON."""
    text = json.dumps([_FORM, __version__, value], sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
