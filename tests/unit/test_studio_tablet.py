"""A part on a student's tablet: what a link opens, and that nothing else is opened by anything."""

import io
import json
import re
import time
from datetime import timedelta

import pytest
from shares import share_of
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.websockets import WebSocketDisconnect
from studio_pages import browse, words
from tablets import ORIGIN, a_link, a_stand, seated, tablet

from handslide.faces.web import links as link_module
from handslide.faces.web.app import create_app
from handslide.faces.web.assets import plain
from handslide.faces.web.guestpages import ENDED, LISTENS, ROUTES
from handslide.faces.web.links import CODE_BITS, Links, Wish
from handslide.faces.web.safety import HEADERS, Rules
from handslide.ground.errors import BadUsage
from handslide.ground.limits import (
    GUEST_TAKES,
    LEAST_LINK_MINUTES,
    LINKS_OPEN,
    MOST_LINK_MINUTES,
    TRIES,
)
from handslide.studio.parts.stand import list_stands, take_off
from handslide.studio.people.students import list_students
from handslide.studio.takes.takes import get_take, list_takes

# All that a tablet may ask for. A new route must be written here too, and thought about.
ALLOWED = {
    ("GET", "/"), ("POST", "/join"), ("GET", "/music"), ("GET", "/route"), ("GET", "/take"),
    ("POST", "/take"), ("WEBSOCKET", "/live"), ("WEBSOCKET", "/here"),
}  # fmt: skip
# Without a link: where the code is given, and how it looks.
OPEN = {
    "/", "/static/tokens.css", "/static/style.css", "/static/guest.css", "/static/join.js",
    "/static/icon.svg",
}  # fmt: skip


# What a tablet is told of a note of its take.
NOTE = {"i", "row", "sign", "mm", "off_mm", "start_s", "end_s", "name", "words"}


def other_code(code):
    return ("3" if code[0] == "2" else "2") + code[1:]


# What there is for a tablet


def test_the_table_of_what_a_tablet_may_ask_for():
    found = set()
    for route in ROUTES:
        if isinstance(route, WebSocketRoute):
            found.add(("WEBSOCKET", route.path))
        else:
            found |= {(method, route.path) for method in route.methods - {"HEAD"}}
    assert found == ALLOWED
    assert not any("{" in path for _, path in found), "a number in an address can be guessed"


def paths_of(app):
    """Each path of the studio with each of its methods, with numbers of what there is."""
    for route in app.routes:
        if isinstance(route, Mount):
            yield f"{route.path}/app.js", {"GET"}
        elif isinstance(route, Route | WebSocketRoute):
            path = re.sub(r"\{\w+(:\w+)?\}", "1", route.path)
            yield path, getattr(route, "methods", None) or {"GET"}


@pytest.mark.parametrize("with_link", [True, False])
def test_every_other_address_of_the_studio_is_refused(example, with_link):
    _, _, app = a_link(example, stage=True, records=True)
    device = seated(example, stage=True, records=True)[2] if with_link else tablet(app)
    names = [each.name for each in list_students(example)]
    asked = 0
    for number, (path, methods) in enumerate(paths_of(create_app(example))):
        others = share_of(("PUT", "PATCH", "DELETE", "OPTIONS"), number, 4)
        for method in sorted({*methods, "GET", "POST", *others}):
            if (method, path) in ALLOWED or (method == "HEAD" and ("GET", path) in ALLOWED):
                continue
            answer = device.request(method, path)
            asked += 1
            assert answer.status_code in (403, 404, 405), (method, path, answer.status_code)
            assert len(answer.content) < 300, (method, path)
            assert not any(name in answer.text for name in names), (method, path)
            assert "location" not in answer.headers
    assert asked > 400


@pytest.mark.parametrize(
    "path",
    ["/live", "/here", "/talk", "/stands/1", "/", "/music", "/live/", "//live", "/live?student=2"],
)
def test_live_connections_without_a_link_tell_nothing(example, path):
    device = tablet(a_link(example, stage=True)[2])
    with pytest.raises(WebSocketDisconnect) as refused, device.websocket_connect(path) as line:
        line.receive_text()
    assert refused.value.code in ({"/here": (ENDED,)}.get(path, (1000, 1008)))


def test_without_a_link_there_is_only_the_field_for_the_code(example):
    _, link, app = a_link(example)
    device = tablet(app)
    page = device.get("/")
    assert page.status_code == 200
    part = list_stands(example)[0]
    for secret in (part.title, part.student, link.code, "handslide studio"):
        assert secret not in page.text
    wanted = set(re.findall(r'(?:href|src)="([^"]+)"', page.text))
    assert {plain(each) for each in wanted} <= OPEN
    for path in (*OPEN, *wanted):
        assert device.get(path).status_code == 200
    for path in ("/music", "/route", "/take", "/static/guest.js", "/static/part.js", "/join"):
        assert device.get(path).status_code in (403, 405), path


def test_a_link_opens_its_part_and_no_other(example):
    rows = list_stands(example)
    assert len(rows) > 1
    _, link, device = seated(example)
    page = device.get("/")
    assert page.status_code == 200 and rows[0].title in words(page)
    others = {each.name for each in list_students(example)} | {row.title for row in rows[1:]}
    others -= {rows[0].title}
    route = device.get("/route", headers={"Accept": "application/json"})
    music = device.get("/music?width=narrow", headers={"Accept": "image/svg+xml"})
    assert music.headers["content-type"] == "image/svg+xml" and "hs-n" in music.text
    for answer in (page, route, music):
        assert answer.status_code == 200
        assert not any(other in answer.text for other in others)
    shown = route.json()
    assert shown["notes"] and shown["played"] and shown["horn"]["travel_mm"] > 0
    assert not {"stand", "warnings", "locks", "can_undo"} & set(shown)
    # Whatever number is asked for by the way, the link's own part is shown.
    for row in rows:
        for query in (f"?stand={row.id}", f"?with={row.id}", f"?student={row.student_id}"):
            assert device.get(f"/route{query}").json() == shown
            assert device.get(f"/music{query}&width=narrow").text == music.text
    assert link.open


def test_the_page_of_a_link_has_no_way_elsewhere(example):
    for stage in (False, True):
        page = seated(example, stage=stage, records=stage)[2].get("/").text
        wanted = set(re.findall(r'(?:href|src|action|hx-get)="([^"#]+)"', page))
        assert all(each.startswith(("/static/",)) for each in wanted), wanted


def test_every_answer_carries_the_headers_of_safety(example):
    _, _, device = seated(example)
    for method, path in (("GET", "/"), ("GET", "/music"), ("GET", "/no"), ("POST", "/take"),
                         ("GET", "/static/guest.js"), ("GET", "/route")):  # fmt: skip
        answer = device.request(method, path)
        for name, value in HEADERS.items():
            assert answer.headers.get(name) == value, (path, name)
    for refused in (tablet(device.app, Host="evil.example").get("/"), tablet(device.app).get("/x")):
        assert refused.headers["Content-Security-Policy"] == HEADERS["Content-Security-Policy"]
        assert refused.headers["Cache-Control"] == "no-store"


# Codes and seats


def test_a_code_is_long_and_no_two_are_alike():
    assert CODE_BITS >= 128
    codes = {link_module._new_code() for _ in range(500)}
    assert len(codes) == 500
    signs = set("".join(codes)) - {"-"}
    assert len(signs) == 32 and not signs & set("il1o")
    assert all(len(code.replace("-", "")) * 5 == CODE_BITS for code in codes)


def test_a_code_is_good_once(example):
    _, link, app = a_link(example)
    code = link.code
    first, second = tablet(app), tablet(app)
    # As it is typed: large letters, spaces.
    typed = code.upper().replace("-", " ")
    answer = first.post("/join", data={"code": typed})
    assert answer.status_code == 303 and answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=strict" in cookie and "Max-Age=3600" in cookie
    assert "Secure" not in cookie and code not in cookie
    again = second.post("/join", data={"code": code})
    assert again.status_code == 403 and "used already" in words(again)
    assert second.get("/route").status_code == 403
    # The device that was in stays in, whatever it sends.
    assert first.post("/join", data={"code": code}).status_code == 303
    assert first.get("/route").status_code == 200
    assert link.code is None and link.url is None


@pytest.mark.parametrize("sent", ["", "x", "2" * 28, "a" * 60, "%00", "é" * 28, "../..", "-" * 28])
def test_no_other_code_opens(example, sent):
    _, link, app = a_link(example)
    device = tablet(app)
    for code in (sent, other_code(link.code), link.code[:-1], link.code + "2"):
        assert device.post("/join", data={"code": code}).status_code == 403
        assert device.get("/route").status_code == 403
    assert link.code is not None


def test_a_used_code_is_no_empty_code(example):
    """After its use a link has no code: nothing that comes to nothing may fit that."""
    links, _, device = seated(example)
    for code in ("", "-", " ", "---"):
        assert links.seat(code, ORIGIN) is None
        assert tablet(device.app).post("/join", data={"code": code}).status_code == 403


def test_a_seat_is_good_at_its_own_address_only(example):
    links, link, device = seated(example)
    seat = device.cookies["guest8481"]
    assert links.of_seat(seat, ORIGIN) is link
    assert links.of_seat(seat, "http://192.168.1.21:8481") is None
    assert links.of_seat(seat + "x", ORIGIN) is None and links.of_seat("", ORIGIN) is None
    for sent in (f"guest8482={seat}", f"studio={seat}", f"guest8481={seat[:-1]}", "guest8481=",
                 "guest8481", "guest8481=\"", "\x01=;"):  # fmt: skip
        stranger = tablet(device.app, Cookie=sent)
        assert stranger.get("/route").status_code == 403, sent
    # The studio itself doesn't know the seat, and a link doesn't know the studio's cookie.
    home = browse(create_app(example, Rules(password="oil the slide")))
    assert home.get("/", headers={"Cookie": f"studio={seat}; guest8481={seat}"}).status_code == 401


def test_what_is_kept_of_a_code_and_a_seat(example):
    links, link, device = seated(example)
    seat = device.cookies["guest8481"]
    kept = repr(vars(link)) + repr(vars(links))
    assert seat not in kept


@pytest.mark.parametrize("clock", ["monotonic", "wall"])
def test_a_link_ends_by_itself(example, monkeypatch, clock):
    links, link, device = seated(example, minutes=5)
    waiting = links.make(Wish(a_stand(example), False, False, 5), ORIGIN)
    code = waiting.code
    assert device.get("/route").status_code == 200
    if clock == "monotonic":
        now = time.monotonic() + 301.0
        monkeypatch.setattr(link_module.time, "monotonic", lambda: now)
    else:  # the machine slept: the steady clock stood still
        link.ends_at -= timedelta(minutes=5)
        waiting.ends_at -= timedelta(minutes=5)
    assert not link.open
    for path in ("/route", "/music", "/take"):
        assert device.get(path).status_code == 403
    assert "Code from" in words(device.get("/"))
    assert tablet(device.app).post("/join", data={"code": code}).status_code == 403
    assert links.rows() == ()


def test_a_link_can_be_ended_at_once(example):
    links, link, device = seated(example)
    links.end(link)
    assert device.get("/route").status_code == 403
    assert links.rows() == ()


def test_how_long_and_how_many():
    links, stand = Links(), None
    for minutes in (LEAST_LINK_MINUTES - 1, MOST_LINK_MINUTES + 1, 0, -60):
        with pytest.raises(BadUsage, match="5 to 480 minutes"):
            links.make(Wish(stand, False, False, minutes), ORIGIN)
    for _ in range(LINKS_OPEN):
        links.make(Wish(stand, False, False, MOST_LINK_MINUTES), ORIGIN)
    with pytest.raises(BadUsage, match="end one of them first"):
        links.make(Wish(stand, False, False, 60), ORIGIN)
    links.end_all()
    assert links.make(Wish(stand, False, False, 60), ORIGIN).number == LINKS_OPEN + 1


@pytest.mark.parametrize("kind", ["codes", "seats"])
def test_guesses_are_bounded_and_keep_no_device_out_that_is_in(example, kind, monkeypatch):
    # Tries come back with time, and a busy machine takes some for so many.
    monkeypatch.setattr("handslide.faces.web.password._clock_s", lambda: 0.0)
    links, _, inside = seated(example)
    stranger = tablet(inside.app)
    # Both come from one address here; the door knows devices by it.
    stranger_address = {"client": ("10.0.0.66", 50000)}
    stranger._transport.client = stranger_address["client"]
    found = []
    for k in range(TRIES + 5):
        if kind == "codes":
            found.append(stranger.post("/join", data={"code": f"{k:028d}"}).status_code)
        else:
            headers = {"Cookie": f"guest8481={k:043d}"}
            found.append(stranger.get("/route", headers=headers).status_code)
    assert found == [403] * TRIES + [429] * 5
    assert inside.get("/route").status_code == 200
    # Even the right code isn't looked at then: a later try is.
    late = links.make(Wish(a_stand(example), False, False, 60), ORIGIN)
    assert stranger.post("/join", data={"code": late.code}).status_code == 429
    assert late.code is not None


# Who speaks


@pytest.mark.parametrize(
    "host",
    [
        "evil.example", "evil.example:8481", "192.168.1.20", "192.168.1.20:8471",
        "192.168.1.21:8481", "127.0.0.1:8481", "localhost:8481", "",
        "192.168.1.20.evil.example:8481",
        "192.168.1.20:8481@evil.example", "[::1]:8481",
    ],
)  # fmt: skip
def test_no_other_host_is_answered(example, host):
    _, _, device = seated(example)
    for path in ("/", "/route", "/static/guest.css"):
        answer = device.get(path, headers={"Host": host, "Origin": f"http://{host}"})
        assert answer.status_code == 421
        assert ORIGIN in answer.text and "<" not in answer.text
    with pytest.raises(WebSocketDisconnect), device.websocket_connect(
        "/here", headers={"Host": host, "Origin": f"http://{host}"}
    ) as line:  # fmt: skip
        line.receive_text()


FOREIGN = [
    {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"},
    {"Origin": "http://evil.example", "Sec-Fetch-Site": None},
    {"Origin": "https://192.168.1.20:8481"},
    {"Origin": "http://192.168.1.20:8471"},
    {"Origin": "http://127.0.0.1:8471"},
    {"Origin": "null"},
    {"Origin": None, "Sec-Fetch-Site": "same-origin"},
    {"Origin": None, "Sec-Fetch-Site": None},
    {"Sec-Fetch-Site": "same-site"},
    {"Sec-Fetch-Site": "cross-site"},
]


@pytest.mark.parametrize("headers", FOREIGN)
def test_a_page_of_elsewhere_sends_in_vain(example, headers):
    _, link, device = seated(example, stage=True, records=True)
    other = tablet(device.app, **headers)
    other.cookies = device.cookies
    sound = {"audio": ("take.wav", b"RIFF")}
    assert other.post("/take", files=sound).status_code == 403
    assert other.post("/join", data={"code": "x"}).status_code == 403
    assert link.takes == []
    for path in ("/live", "/here"):
        with pytest.raises(WebSocketDisconnect) as refused, other.websocket_connect(path) as line:
            line.receive_text()
        assert refused.value.code == 1008


def test_a_foreign_code_cannot_be_pushed_onto_a_device(example):
    """Signing somebody in by another site's form would be CSRF too."""
    _, link, app = a_link(example)
    evil = tablet(app, Origin="http://evil.example", **{"Sec-Fetch-Site": "cross-site"})
    assert evil.post("/join", data={"code": link.code}).status_code == 403
    assert link.code is not None


# Listening and takes


def tone(hz, rate_hz=48_000, seconds=0.6):
    import numpy as np

    t = np.arange(int(rate_hz * seconds)) / rate_hz
    wave = sum(np.sin(2 * np.pi * k * hz * t) / k for k in range(1, 7))
    return (6000 * wave).astype("<i2")


def test_the_live_view_is_of_the_links_own_student(example, monkeypatch):
    from handslide.faces.web import live

    asked = []
    real = live.Live

    def note(studio, start):
        asked.append(start)
        return real(studio, start)

    monkeypatch.setattr(live, "Live", note)
    _, link, device = seated(example, stage=True)
    stand = link.wish.stand
    others = [row for row in list_stands(example) if row.student_id != stand.student_id]
    first = {"rate_hz": 48_000, "student": others[0].student_id, "stand": others[0].id}
    with device.websocket_connect("/live") as line:
        line.send_text(json.dumps(first))
        sound = tone(116.54)
        for k in range(0, len(sound), 4800):
            line.send_bytes(sound[k : k + 4800].tobytes())
        said = line.receive_json()
    assert said.keys() >= {"slide_mm", "place", "note"}
    assert [(one.student_id, one.stand_id) for one in asked] == [(stand.student_id, stand.id)]


def test_a_part_does_not_listen_and_a_stage_listens_once(example):
    _, link, device = seated(example)
    with pytest.raises(WebSocketDisconnect) as refused, device.websocket_connect("/live") as line:
        line.receive_text()
    assert refused.value.code == LISTENS
    _, link, device = seated(example, stage=True)
    with device.websocket_connect("/live") as line:
        line.send_text(json.dumps({"rate_hz": 48_000, "student": 0, "stand": None}))
        line.send_bytes(b"\x00\x00" * 4800)
        assert link.listening
        with (
            pytest.raises(WebSocketDisconnect) as refused,
            device.websocket_connect("/live") as again,
        ):
            again.receive_text()
        assert refused.value.code == LISTENS
    end = time.monotonic() + 5.0
    while link.listening and time.monotonic() < end:
        time.sleep(0.02)
    assert not link.listening


@pytest.mark.parametrize("path", ["/here", "/live"])
def test_an_open_page_is_told_that_its_link_has_ended(example, path):
    links, link, device = seated(example, stage=True)
    with device.websocket_connect(path) as line:
        links.end(link)
        with pytest.raises(WebSocketDisconnect) as closed:
            line.receive_text()
    assert closed.value.code == ENDED


@pytest.mark.parametrize("path", ["/here", "/live"])
def test_a_part_that_is_gone_ends_what_is_open_and_opens_nothing(example, path):
    _, link, device = seated(example, stage=True)
    with device.websocket_connect(path) as line:
        take_off(example, link.wish.stand.id)
        with pytest.raises(WebSocketDisconnect) as closed:
            line.receive_text()
    assert closed.value.code == ENDED and not link.open
    _, link, device = seated(example, stage=True)
    take_off(example, link.wish.stand.id)
    with pytest.raises(WebSocketDisconnect) as closed, device.websocket_connect(path) as line:
        line.receive_text()
    assert closed.value.code == ENDED


def wav(samples, rate_hz=48_000):
    import soundfile

    file = io.BytesIO()
    soundfile.write(file, samples, rate_hz, format="WAV", subtype="PCM_16")
    return file.getvalue()


def test_takes_are_taken_in_only_where_the_teacher_lets_them(example):
    count = len(list_takes(example))
    for wishes in ({}, {"stage": True}):
        _, link, device = seated(example, **wishes)
        answer = device.post("/take", files={"audio": ("t.wav", wav(tone(116.54)))})
        assert answer.status_code == 400 and link.takes == []
    assert len(list_takes(example)) == count


def test_a_take_is_the_links_own_and_is_told_back(example):
    _, link, device = seated(example, stage=True, records=True)
    assert device.get("/take").status_code == 404
    stand = link.wish.stand
    other = next(row for row in list_stands(example) if row.student_id != stand.student_id)
    forged = {"student": str(other.student_id), "stand": str(other.id), "title": "forged"}
    sound = wav(tone(116.54, seconds=1.5))
    answer = device.post("/take", files={"audio": ("../x.wav", sound)}, data=forged)
    assert answer.status_code == 200
    end = time.monotonic() + 60.0
    while not (state := device.get("/take").json())["done"] and time.monotonic() < end:
        time.sleep(0.1)
    report = state["report"]
    # Sentences and its notes over the music, and none of the studio's numbers.
    assert set(report) == {"summary", "on_music", "hits", "notes"} and report["summary"]
    assert set(state) == {"share", "done", "report"}
    assert all(set(note) == NOTE for note in report["notes"])
    take = get_take(example, list_takes(example)[0].id)
    assert (take.student_id, take.stand_id) == (stand.student_id, stand.id)
    assert "forged" not in take.title
    # One at a time: a device can't hold up the teacher's takes with many of its own.
    link.sending = True
    again = device.post("/take", files={"audio": ("t.wav", sound)})
    assert again.status_code == 400 and "afterwards" in again.text
    link.sending = False
    link.takes[1:] = ["x"] * GUEST_TAKES
    assert device.post("/take", files={"audio": ("t.wav", sound)}).status_code == 400
    assert device.post("/take", files={"audio": ("t.wav", b"")}).status_code == 400


def test_what_a_tablet_sends_is_bounded(example):
    _, _, device = seated(example, stage=True, records=True)
    assert device.post("/join", content=b"x" * 10_001).status_code == 413
    huge = {"Content-Length": str(129 * 2**20), "Content-Type": "multipart/form-data; boundary=x"}
    assert device.post("/take", content=b"x", headers=huge).status_code == 413


def test_a_part_that_is_taken_off_ends_its_link(example):
    _, link, device = seated(example)
    take_off(example, link.wish.stand.id)
    assert device.get("/route").status_code == 404
    assert not link.open and device.get("/route").status_code == 403


def test_another_part_that_takes_over_the_number_is_not_shown(example):
    """After a restored backup, say: the number of the stand may mean another one."""
    _, link, device = seated(example)
    with example.store.write() as db:
        db.execute(
            "UPDATE stand SET created_at = '2001-01-01T00:00:00+00:00' WHERE id = ?",
            (link.wish.stand.id,),
        )
    assert device.get("/").status_code == 404
    assert not link.open


def test_an_error_nobody_foresaw_tells_nothing(example, monkeypatch, caplog):
    from handslide.faces.web import guestpages

    def fail(*_):
        raise RuntimeError("Mira Holt's secret")

    monkeypatch.setattr(guestpages, "open_part", fail)
    _, _, device = seated(example)
    answer = device.get("/route")
    assert answer.status_code == 500
    assert "secret" not in answer.text and "Traceback" not in answer.text
