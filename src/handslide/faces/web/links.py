"""Links that open one part on another device, for a lesson.

A link has a code, which is good once: whoever sends it gets a seat, the secret of a cookie, and the
code is forgotten. Of seats only digests are kept. All is in memory: links end with the process.
"""

import hashlib
import hmac
import secrets
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count

from handslide.edges.store.stands import Stand
from handslide.ground.errors import BadUsage, NotFound
from handslide.ground.limits import LEAST_LINK_MINUTES, LINKS_OPEN, MOST_LINK_MINUTES

# No two signs that are read for each other; a power of two.
_SIGNS = "23456789abcdefghjkmnpqrstuvwxyz0"
_GROUPS, _GROUP = 4, 7
CODE_BITS = 5 * _GROUPS * _GROUP


@dataclass(frozen=True, slots=True)
class Wish:
    """What a link is to open: a ``stand``, as ``part`` or ``stage``, for how long.

    ``records``: takes may be sent from there.
    """

    stand: Stand
    stage: bool
    records: bool
    minutes: int


@dataclass(eq=False)
class Link:
    """A link: its ``number`` for the teacher, what it opens, at which ``origin``, until when.

    ``code`` is there until it was used; ``opened_at`` from then on. ``takes`` are the keys by which
    those that were sent are heard; a device is ``listening`` or ``sending`` once at a time.
    """

    number: int
    wish: Wish
    origin: str
    ends_at: datetime
    code: str | None
    opened_at: datetime | None = None
    takes: list[str] = field(default_factory=list)
    listening: bool = False
    sending: bool = False
    _seat: bytes | None = field(default=None, repr=False)
    _until_s: float = 0.0
    _ended: bool = False

    @property
    def open(self) -> bool:
        """Whether it is still good: neither clock says that its time is over, nobody ended it."""
        # The steady clock may stand still while the machine sleeps, the other may be set back.
        late = time.monotonic() >= self._until_s or datetime.now().astimezone() >= self.ends_at
        return not (self._ended or late)

    @property
    def url(self) -> str | None:
        """Where the device goes, None once it was there. What is behind # isn't sent."""
        return None if self.code is None else f"{self.origin}/#{self.code}"


class Links:
    """All links of a studio's server."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._links: list[Link] = []
        self._numbers = count(1)

    def make(self, wish: Wish, origin: str) -> Link:
        """A new link. Raises BadUsage."""
        if not LEAST_LINK_MINUTES <= wish.minutes <= MOST_LINK_MINUTES:
            least, most = LEAST_LINK_MINUTES, MOST_LINK_MINUTES
            raise BadUsage("send.minutes", minutes=wish.minutes, least=least, most=most)
        ends_at = datetime.now().astimezone() + timedelta(minutes=wish.minutes)
        with self._guard:
            self._tidy()
            if len(self._links) >= LINKS_OPEN:
                raise BadUsage("send.too_many", count=LINKS_OPEN)
            made = Link(next(self._numbers), wish, origin, ends_at, _new_code())
            made._until_s = time.monotonic() + 60.0 * wish.minutes
            self._links.append(made)
        return made

    def seat(self, code: str, origin: str) -> tuple[Link, str] | None:
        """The link whose ``code`` was sent to ``origin`` and the seat there; the code is used up.

        None for a code that is nobody's, was used, ended, or belongs to another origin.
        """
        sent = _digest("".join(sign for sign in code.lower() if sign.isalnum()))
        with self._guard:
            self._tidy()
            found = None
            # All are looked at: how long it takes tells nothing of a code.
            for link in self._links:
                known = _digest((link.code or "").replace("-", ""))
                same = hmac.compare_digest(sent, known) & (link.code is not None)
                if same and link.origin == origin:
                    found = link
            if found is None:
                return None
            seat = secrets.token_urlsafe(32)
            found.code, found._seat = None, _digest(seat)
            found.opened_at = datetime.now().astimezone()
            return found, seat

    def of_seat(self, seat: str, origin: str) -> Link | None:
        """The open link whose device has this seat at ``origin``."""
        sent, found = _digest(seat), None
        with self._guard:
            self._tidy()
            for link in self._links:
                same = hmac.compare_digest(sent, link._seat or b"")
                if same and link.origin == origin:
                    found = link
        return found

    def of_number(self, number: int) -> Link:
        """An open link. Raises NotFound."""
        for link in self.rows():
            if link.number == number:
                return link
        raise NotFound("send.ended")

    def rows(self, origin: str | None = None) -> tuple[Link, ...]:
        """The links that are good now, at ``origin`` or (None) all, the newest first."""
        with self._guard:
            self._tidy()
            found = [link for link in self._links if origin in (None, link.origin)]
        return tuple(reversed(found))

    def end(self, link: Link) -> None:
        """End a link at once."""
        with self._guard:
            link._ended = True
            self._tidy()

    def end_all(self) -> None:
        """End all links at once."""
        for link in self.rows():
            self.end(link)

    def _tidy(self) -> None:
        self._links = [link for link in self._links if link.open]


def _new_code() -> str:
    groups = ("".join(secrets.choice(_SIGNS) for _ in range(_GROUP)) for _ in range(_GROUPS))
    return "-".join(groups)


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
