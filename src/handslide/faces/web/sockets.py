"""Where servers listen, and which addresses of its own this machine has in private networks."""

import errno
import ipaddress
import os
import socket

from handslide.ground.errors import BadUsage
from handslide.ground.system import system_reason

_PORTS_TRIED = 50
# One address in each kind of private network (RFC 1918, RFC 4193), after one that no network has
# (RFC 5737, RFC 3849): the system says from which of its own it would send there.
_FAR = ("192.0.2.1", "2001:db8::1")
_NEAR = ("192.168.0.1", "192.168.1.1", "10.0.0.1", "172.16.0.1", "fd00::1")


def listen(address: str, port: int) -> socket.socket:
    """A bound socket at ``port`` or the next free one. Raises BadUsage."""
    try:
        family, *_, place = socket.getaddrinfo(address, port, type=socket.SOCK_STREAM)[0]
    except OSError as error:
        reason = system_reason(error)
        raise BadUsage("web.no_address", address=address, reason=reason) from error
    for offset in range(_PORTS_TRIED if port else 1):
        line = socket.socket(family, socket.SOCK_STREAM)
        if os.name == "posix":
            line.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            line.bind((place[0], port + offset if port else 0, *place[2:]))
            # Only listening tells whether the port is really free.
            line.listen(128)
            return line
        except OSError as error:
            line.close()
            if error.errno != errno.EADDRINUSE:
                raise BadUsage(
                    "web.cannot_listen",
                    address=address,
                    port=port + offset,
                    reason=system_reason(error),
                ) from error
        except OverflowError as error:
            line.close()
            raise BadUsage("web.high_port") from error
    raise BadUsage("web.ports_taken", first=port, last=port + _PORTS_TRIED - 1)


def url_of(address: str, port: int, *, secure: bool = False) -> str:
    """The URL at which this machine's browser finds the studio."""
    name = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(address, address)
    scheme = "https" if secure else "http"
    host = f"[{name}]" if ":" in name and name[0] != "[" else name
    return f"{scheme}://{host}:{port}"


def own_addresses() -> tuple[str, ...]:
    """The machine's own addresses in private networks, the one that leads outward first.

    Nothing is sent: the system is asked which way it would go.
    """
    asked = [_way_to(there) for there in (*_FAR, *_NEAR)]
    try:
        rows = socket.getaddrinfo(socket.gethostname(), None, type=socket.SOCK_STREAM)
        asked += [str(row[4][0]) for row in rows]
    except OSError:
        pass  # A machine that doesn't know its own name has its addresses all the same.
    return tuple(dict.fromkeys(one for one in asked if one is not None and _is_private(one)))


def _way_to(there: str) -> str | None:
    family = socket.AF_INET6 if ":" in there else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as line:
            line.connect((there, 9))
            return str(line.getsockname()[0])
    except OSError:
        return None


def _is_private(address: str) -> bool:
    try:
        number = ipaddress.ip_address(address)
    except ValueError:  # with a scope: it leads nowhere from another machine
        return False
    return number.is_private and not (
        number.is_loopback or number.is_link_local or number.is_unspecified
    )
