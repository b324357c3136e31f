"""A tablet's browser at what a link opens, within this process, with the headers that one sends."""

from contextlib import contextmanager

from starlette.testclient import TestClient

from handslide.faces.web.guestpages import guest_app
from handslide.faces.web.guestserver import Guests
from handslide.faces.web.links import Links, Wish
from handslide.studio.parts.stand import get_stand, list_stands

ORIGIN = "http://192.168.1.20:8481"
# What stands for the addresses of a network in tests: nothing leaves the machine.
NETWORK = ("127.0.0.2", "127.0.0.1")


class Tablet(TestClient):
    """A client of what tablets reach; live connections go there too."""

    def websocket_connect(self, url, *args, **kwargs):
        return super().websocket_connect(ORIGIN.replace("http", "ws") + url, *args, **kwargs)


def tablet(app, **headers):
    """A device; redirects are not followed. None: no such header."""
    sent = {"Origin": ORIGIN, "Sec-Fetch-Site": "same-origin", "Accept": "text/html", **headers}
    sent = {name: value for name, value in sent.items() if value is not None}
    return Tablet(app, base_url=ORIGIN, headers=sent, follow_redirects=False)


def a_stand(studio):
    """The stand that was opened last."""
    return get_stand(studio, list_stands(studio)[0].id)


def a_link(studio, *, stage=False, records=False, minutes=60, origin=ORIGIN):
    """Links with one, and the application for it."""
    links = Links()
    link = links.make(Wish(a_stand(studio), stage, records, minutes), origin)
    return links, link, guest_app(studio, links, origin)


def seated(studio, **wishes):
    """Links, a link that was opened, and the device that did."""
    links, link, app = a_link(studio, **wishes)
    device = tablet(app)
    assert device.post("/join", data={"code": link.code}).status_code == 303
    return links, link, device


@contextmanager
def letting_in(studio, **wishes):
    """What lets tablets in at addresses of this machine, on free ports; all stops at the end."""
    guests = Guests(studio, addresses=lambda: NETWORK, port=0, **wishes)
    try:
        yield guests
    finally:
        guests.close()
