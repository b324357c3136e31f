"""Optional content: what is switched off isn't seen (ISO 32000-1, 8.11)."""

from typing import Any

import pikepdf


class Layers:
    """Which groups are off in the default configuration, as a printed page shows it."""

    def __init__(self, root: Any) -> None:
        self._off: set[tuple[int, int]] = set()
        self._base_off, self._on = False, set[tuple[int, int]]()
        properties = root.get("/OCProperties")
        if not isinstance(properties, pikepdf.Dictionary):
            return
        usual = properties.get("/D")
        if isinstance(usual, pikepdf.Dictionary):
            self._base_off = str(usual.get("/BaseState", "")) == "/OFF"
            self._off, self._on = _groups(usual.get("/OFF")), _groups(usual.get("/ON"))

    def is_off(self, content: Any) -> bool:
        """Whether a group, or a membership of groups, is off. None is not."""
        if not isinstance(content, pikepdf.Dictionary):
            return False
        if str(content.get("/Type", "")) != "/OCMD":
            return self._group_off(content)
        members = content.get("/OCGs")
        groups = list(members) if isinstance(members, pikepdf.Array) else [members]
        off = [self._group_off(one) for one in groups if isinstance(one, pikepdf.Dictionary)]
        if not off:
            return False
        policy = str(content.get("/P", "/AnyOn"))
        seen = {
            "/AllOn": not any(off), "/AnyOff": any(off), "/AllOff": all(off),
        }.get(policy, not all(off))  # fmt: skip
        return not seen

    def _group_off(self, group: Any) -> bool:
        key = group.objgen
        return key in self._off or (self._base_off and key not in self._on)


def _groups(said: Any) -> set[tuple[int, int]]:
    return {one.objgen for one in said} if isinstance(said, pikepdf.Array) else set()
