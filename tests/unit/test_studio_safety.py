"""Attacks on the studio, and what each of its answers must carry."""

import asyncio
import base64
import contextlib
import logging
import socket
import time
from urllib.parse import urlsplit

import pytest
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.websockets import WebSocketDisconnect
from studio_pages import BASE, PORT, browse, client, words

from browser import serving
from handslide.faces.web import forms
from handslide.faces.web.app import create_app
from handslide.faces.web.password import Door
from handslide.faces.web.protocol import Protocol
from handslide.faces.web.safety import HEADERS, LIMITS, Guard, Rules, is_loopback
from handslide.ground.errors import BadUsage, NotFound, StoreError
from handslide.ground.limits import ALL_TRIES, FORM_FILES, TRIES
from handslide.studio.studio import set_setting

EVIL = "http://evil.example"


def app_with(studio, path, endpoint, rules=None):
    """The real application with one more address of our own."""
    app = create_app(studio, rules)
    if endpoint is talk:
        app.router.routes.insert(0, WebSocketRoute(path, endpoint))
    else:
        app.router.routes.insert(0, Route(path, endpoint, methods=["GET", "POST"]))
    return app


async def take_in(request):
    found = await forms.uploads(request, "file", 5_000)
    return PlainTextResponse("|".join(each.name for each in found))


async def talk(websocket):
    await websocket.accept()
    await websocket.send_text("come in")
    await websocket.close()


# Who may speak with the studio


@pytest.mark.parametrize(
    "host",
    [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"[::1]:{PORT}", f"LOCALHOST:{PORT}", "127.0.0.1"],
)
def test_the_machines_own_names_are_let_in(studio, host):
    assert client(studio, Host=host).get("/").status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example", f"evil.example:{PORT}", f"127.0.0.1.evil.example:{PORT}", "127.0.0.1:9",
        f"localhost.evil.example:{PORT}", f"10.0.0.7:{PORT}", "", f"127.0.0.1@evil.example:{PORT}",
        f"127.0.0.1:{PORT}/..", "127.0.0.1:x", "[::1", f"localhost.:{PORT}", "0.0.0.0",
    ],
)  # fmt: skip
def test_a_name_that_leads_here_from_elsewhere_is_refused(studio, host):
    answer = client(studio, Host=host, Origin=f"http://{host}").get("/")
    assert answer.status_code == 421
    assert f"http://127.0.0.1:{PORT}" in answer.text
    assert "<" not in answer.text


def test_two_hosts_are_refused(studio):
    with serving(studio) as address:
        port = urlsplit(address).port
        with socket.create_connection(("127.0.0.1", port)) as line:
            line.sendall(
                f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nHost: evil.example\r\n\r\n".encode()
            )
            assert line.recv(100).split()[1] in (b"400", b"421")


def test_the_chosen_address_is_let_in_and_no_other():
    from handslide.faces.web.safety import host_allowed

    def asks(host, server, address):
        return host_allowed(
            {"headers": [(b"host", host.encode())], "server": (server, 8471)}, address
        )

    assert asks("10.0.0.7:8471", "10.0.0.7", "10.0.0.7")
    assert asks("bench.local:8471", "10.0.0.7", "bench.local")
    assert not asks("10.0.0.8:8471", "10.0.0.7", "10.0.0.7")
    # On all addresses: the number that was called, but no name.
    assert asks("10.0.0.7:8471", "10.0.0.7", "0.0.0.0")
    assert asks("[fd00::7]:8471", "fd00::7", "::")
    assert not asks("evil.example:8471", "10.0.0.7", "0.0.0.0")
    assert not asks("10.0.0.7:8472", "10.0.0.7", "0.0.0.0")
    # A server that takes its own name from the request must not fool us.
    assert not asks("evil.example:8471", "evil.example", "0.0.0.0")


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": EVIL, "Sec-Fetch-Site": "cross-site"},
        {"Origin": EVIL, "Sec-Fetch-Site": None},
        {"Origin": EVIL, "Sec-Fetch-Site": "same-origin"},
        {"Origin": "null", "Sec-Fetch-Site": None},
        {"Origin": None, "Sec-Fetch-Site": "cross-site"},
        {"Origin": None, "Sec-Fetch-Site": "same-site"},
        {"Origin": None, "Sec-Fetch-Site": None},
        {"Origin": "http://127.0.0.1:9", "Sec-Fetch-Site": "same-site"},
        {"Origin": "http://127.0.0.1:9", "Sec-Fetch-Site": None},
        {"Origin": f"ftp://127.0.0.1:{PORT}", "Sec-Fetch-Site": None},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_a_page_of_elsewhere_sends_in_vain(studio, method, headers):
    done = []

    async def change(request):
        done.append(request.method)
        return PlainTextResponse("changed")

    app = create_app(studio)
    app.router.routes.insert(0, Route("/change", change, methods=[method]))
    assert browse(app, **headers).request(method, "/change").status_code == 403
    assert done == []
    # The same from an own page; either header is enough.
    assert browse(app).request(method, "/change").status_code == 200
    assert browse(app, Origin=None).request(method, "/change").status_code == 200
    assert browse(app, **{"Sec-Fetch-Site": None}).request(method, "/change").status_code == 200
    assert len(done) == 3


def test_pages_are_no_pieces_of_other_sites_but_links_lead_here(studio):
    piece = {"Sec-Fetch-Site": "cross-site", "Origin": EVIL}
    for mode, dest in (("no-cors", "script"), ("cors", "empty"), ("navigate", "iframe")):
        headers = {**piece, "Sec-Fetch-Mode": mode, "Sec-Fetch-Dest": dest}
        assert client(studio, **headers).get("/").status_code == 403
    link = {"Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert client(studio, **piece, **link).get("/").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": EVIL, "Sec-Fetch-Site": None},
        {"Origin": EVIL, "Sec-Fetch-Site": "cross-site"},
        {"Origin": None, "Sec-Fetch-Site": None},
        {"Host": f"evil.example:{PORT}", "Origin": f"http://evil.example:{PORT}"},
    ],
)
def test_a_live_line_from_elsewhere_is_refused(studio, headers):
    home = browse(app_with(studio, "/talk", talk), **headers)
    with pytest.raises(WebSocketDisconnect), home.websocket_connect("/talk") as line:
        line.receive_text()


def test_a_live_line_from_an_own_page_is_open(studio):
    home = browse(app_with(studio, "/talk", talk))
    with home.websocket_connect("/talk") as line:
        assert line.receive_text() == "come in"


# Headers


def addresses(app):
    """A path for each route of the application, with numbers that are nobody's."""
    found = []
    for route in app.routes:
        if isinstance(route, Route):
            path = route.path
            for name, convertor in route.param_convertors.items():
                value = "nobody" if type(convertor).__name__ == "StringConvertor" else "987654"
                for form in (
                    f"{{{name}}}",
                    f"{{{name}:int}}",
                    f"{{{name}:str}}",
                    f"{{{name}:path}}",
                ):
                    path = path.replace(form, value)
            assert "{" not in path, path
            found.append((path, sorted(route.methods or {"GET"})))
        elif isinstance(route, Mount):
            found.append((f"{route.path}/none", ["GET"]))
    return found


def test_every_answer_carries_the_headers_of_safety(studio):
    app = create_app(studio)
    home = browse(app)
    asked = [(path, method) for path, methods in addresses(app) for method in methods]
    asked += [("/static/style.css", "GET"), ("/static/HandslideMarks-Bold.ttf", "GET")]
    asked += [("/no/such/page", "GET"), ("/", "DELETE"), ("/static/../app.py", "GET")]
    assert len(asked) > 10
    for path, method in asked:
        answer = home.request(method, path)
        for name, value in HEADERS.items():
            assert answer.headers.get(name) == value, (method, path, name)
        assert answer.status_code != 500, (method, path, answer.text[-500:])
        assert "Traceback" not in answer.text
    refused = client(studio, Host="evil.example").get("/")
    assert refused.headers["Content-Security-Policy"] == HEADERS["Content-Security-Policy"]


def test_what_the_policy_forbids():
    policy = HEADERS["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; ")
    assert "unsafe" not in policy and "*" not in policy and "http" not in policy


# Paths and names of files


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py",
        "/static/%2e%2e%2fapp.py", "/static/..%5capp.py", "/static/....//app.py",
        "/static//etc/passwd", "/static/%2fetc%2fpasswd",
        "/static/..;/app.py", "/static/.%00./app.py", "/static/../texts/en/shell.toml",
        "/static/%2e%2e/texts/en/shell.toml", "/static/%252e%252e/app.py", "/../../etc/passwd",
    ],
)  # fmt: skip
def test_no_path_leads_out_of_the_static_files(studio, path):
    with serving(studio) as address:
        port = urlsplit(address).port
        # By hand: a client library would tidy the path before it sends it.
        with socket.create_connection(("127.0.0.1", port)) as line:
            head = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close"
            line.sendall(f"{head}\r\n\r\n".encode())
            answer = b"".join(iter(lambda: line.recv(65536), b""))
    assert answer.split()[1] in (b"400", b"404")
    assert b"create_app" not in answer and b"root:" not in answer and b"skip =" not in answer


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("..\\..\\boot.ini", "boot.ini"),
        ("C:\\scores\\étude.musicxml", "étude.musicxml"),
        ("a\u202elmxcisum.exe", "almxcisum.exe"),
        ("line\r\nSet-Cookie: x.mxl", "lineSet-Cookie: x.mxl"),
        ("nul\x00l.mxl", "null.mxl"),
        ("..", "file"),
        ("/", "file"),
        (".hidden", "hidden"),
        ("a" * 500 + ".musicxml", "a" * 111 + ".musicxml"),
        ("<script>.mxl", "<script>.mxl"),
    ],
)
def test_no_name_of_a_file_is_trusted(sent, kept):
    assert forms.clean_name(sent) == kept
    assert len(forms.clean_name(sent)) <= 120


def test_an_uploads_name_is_cleaned_on_its_way(studio):
    home = browse(app_with(studio, "/in", take_in))
    answer = home.post("/in", files=[("file", ("../../a.mxl", b"1")), ("file", ("b\\c.mxl", b"2"))])
    assert answer.text == "a.mxl|c.mxl"


# Too much, too slow


def test_a_file_that_is_too_large_is_named(studio):
    home = browse(app_with(studio, "/in", take_in))
    answer = home.post("/in", files={"file": ("long.mxl", b"x" * 5_001)})
    assert answer.status_code == 400
    assert "long.mxl is larger than" in words(answer).lower()


def test_a_huge_upload_that_says_so_is_refused_before_it_is_read(studio):
    read = []

    async def count(request):
        read.append(len(await request.body()))
        return PlainTextResponse("taken")

    home = browse(app_with(studio, "/in", count, Rules(limit=1000)))
    assert home.post("/in", content=b"x" * 1000).text == "taken"
    answer = home.post("/in", content=b"x" * 1001)
    assert answer.status_code == 413
    assert answer.headers["Connection"] == "close"
    assert read == [1000]


def test_a_huge_upload_in_pieces_is_cut_off(studio):
    read = []

    async def count(request):
        async for piece in request.stream():
            read.append(len(piece))
        return PlainTextResponse("taken")

    app = app_with(studio, "/in", count, Rules(limit=100_000))
    with serving(studio, app) as address:
        port = urlsplit(address).port
        with socket.create_connection(("127.0.0.1", port)) as line:
            line.sendall(own_post(port, "/in", "Transfer-Encoding: chunked"))
            for _ in range(40):
                line.sendall(b"2710\r\n" + b"x" * 10_000 + b"\r\n")
            line.sendall(b"0\r\n\r\n")
            assert line.recv(1000).split()[1] == b"413"
    assert sum(read) <= 100_000


def test_many_files_or_fields_are_refused(studio):
    home = browse(app_with(studio, "/in", take_in))
    many = [("file", (f"{i}.mxl", b"")) for i in range(FORM_FILES + 1)]
    assert home.post("/in", files=many).status_code == 400
    assert home.post("/in", data={f"f{i}": "x" for i in range(1001)}).status_code == 400
    big = home.post("/in", files={"file": ("a", b"")}, data={"words": "x" * 1_000_001})
    assert big.status_code == 400


def own_post(port, path, more):
    return (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\n"
        f"{more}\r\n\r\n"
    ).encode()


@pytest.mark.parametrize("silent", [True, False])
def test_a_slow_upload_is_cut_off(studio, silent):
    async def count(request):
        await request.body()
        return PlainTextResponse("taken")

    rules = Rules(silent_s=0.5) if silent else Rules(silent_s=5, patience_s=0.6, slowest_bps=1000)
    with serving(studio, app_with(studio, "/in", count, rules)) as address:
        port = urlsplit(address).port
        with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
            line.sendall(own_post(port, "/in", "Content-Length: 100000") + b"x")
            line.settimeout(0.05)
            answer = b""
            for _ in range(200):
                try:
                    answer = line.recv(1000)
                except TimeoutError:
                    if not silent:
                        line.sendall(b"x")
                if answer:
                    break
            assert answer.split()[1] == b"408"


def test_an_upload_that_hurries_is_not_cut_off(studio):
    async def count(request):
        return PlainTextResponse(str(len(await request.body())))

    rules = Rules(silent_s=0.5, patience_s=0.2, slowest_bps=1000)
    with serving(studio, app_with(studio, "/in", count, rules)) as address:
        port = urlsplit(address).port
        with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
            line.sendall(own_post(port, "/in", "Content-Length: 10000"))
            for _ in range(10):
                line.sendall(b"x" * 1000)
                time.sleep(0.1)
            assert line.recv(10_000).endswith(b"10000")


@pytest.mark.parametrize("before", [b"", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"])
@pytest.mark.parametrize("begun", [b"", b"GET / HTTP/1.1\r\nHost: 127.0"])
def test_a_caller_that_does_not_say_what_it_wants_is_cut_off(studio, before, begun):
    class Hasty(Protocol):
        head_s = 0.5

    with serving(studio, http=Hasty) as address, calling(address) as line:
        line.sendall(before)
        if before:
            assert b"200 OK" in line.recv(100_000)
        line.sendall(begun)
        while line.recv(100_000):  # the line itself waits for nine seconds at most
            pass


def calling(address):
    return socket.create_connection(("127.0.0.1", urlsplit(address).port), timeout=9)


def test_each_topic_has_its_own_limit():
    rules = Rules()
    assert rules.most_bytes("/takes/new") == LIMITS["/takes"]
    assert rules.most_bytes("/takesome") == rules.limit
    assert rules.most_bytes("/data") > rules.most_bytes("/takes") > rules.most_bytes("/parts")


# Errors


def failing(error):
    async def fail(request):
        raise error

    return fail


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (NotFound("people.no_student"), 404),
        (StoreError("store.disk_full"), 409),
        (BadUsage("usage.language", wish="<b>xx</b>", known=("en",)), 400),
    ],
)
def test_an_error_is_a_page_with_its_sentence_and_a_way_back(studio, error, status):
    home = browse(app_with(studio, "/fail", failing(error)))
    answer = home.get("/fail", headers={"Referer": f"{BASE}/parts?x=1"})
    assert answer.status_code == status
    said = str(error)[1:]
    assert said in words(answer)
    assert "<b>" not in answer.text
    assert 'href="/parts?x=1"' in answer.text
    for elsewhere in (EVIL, f"{BASE}//evil.example/", "", f"{BASE}/fail"):
        page = home.get("/fail", headers={"Referer": elsewhere}).text
        assert "evil" not in page and 'class="button" href="/"' in page
    assert (
        home.get("/fail", headers={"Accept": "application/json"}).json()["error"][1:] == f"{said}."
    )
    piece = home.get("/fail", headers={"HX-Request": "true"}).text
    assert piece.startswith('<div class="notice bad">')


def test_nothing_of_an_unforeseen_error_is_shown_but_it_is_logged(studio, caplog):
    home = browse(app_with(studio, "/fail", failing(RuntimeError("secret: ./home/mira"))))
    with caplog.at_level(logging.ERROR):
        for accept in ("text/html", "application/json"):
            answer = home.get("/fail", headers={"Accept": accept})
            assert answer.status_code == 500
            for word in ("secret", "mira", "RuntimeError", "Traceback", ".py"):
                assert word not in answer.text
            assert answer.headers["X-Frame-Options"] == "DENY"
    assert "secret: ./home/mira" in caplog.text


def test_an_error_has_its_sentence_without_the_store_too(studio):
    home = browse(app_with(studio, "/fail", failing(RuntimeError("x"))))
    with studio.store.write() as db:
        db.execute("DROP TABLE setting")
    answer = home.get("/fail")
    assert answer.status_code == 500
    assert "safe" in answer.text and "Traceback" not in answer.text


def test_an_error_speaks_the_language_of_the_studio(studio):
    set_setting(studio, "language", "de")
    answer = client(studio).get("/no/such/page")
    assert answer.status_code == 404
    assert 'lang="de"' in answer.text and "gibt es keine Seite" in words(answer)


# The password


def basic(password):
    return "Basic " + base64.b64encode(f"teacher:{password}".encode()).decode()


def test_only_the_password_opens(studio):
    home = browse(app_with(studio, "/talk", talk, Rules(password="oil the slide")))
    answer = home.get("/")
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"].startswith("Basic")
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert home.get("/static/style.css").status_code == 401
    for wrong in (basic("oil"), "Basic !", "Bearer x"):
        assert home.get("/", headers={"Authorization": wrong}).status_code == 401
    with pytest.raises(WebSocketDisconnect), home.websocket_connect("/talk") as line:
        line.receive_text()
    good = home.get("/", headers={"Authorization": basic("oil the slide")})
    assert good.status_code == 200
    cookie = good.headers["Set-Cookie"]
    assert "HttpOnly" in cookie and "SameSite=Strict" in cookie
    # The client keeps the cookie; no password is needed any more, the origin still is.
    assert home.get("/").status_code == 200
    assert home.post("/", headers={"Origin": EVIL}).status_code == 403
    with home.websocket_connect("/talk") as line:
        assert line.receive_text() == "come in"


def test_a_false_cookie_opens_nothing(studio):
    home = browse(create_app(studio, Rules(password="oil")), Cookie="studio=guess")
    assert home.get("/").status_code == 401


def test_wrong_tries_become_slower_for_who_makes_them(monkeypatch):
    waits = []

    async def wait(seconds):
        waits.append(seconds)

    monkeypatch.setattr("handslide.faces.web.password.asyncio.sleep", wait)

    async def tries():
        door = Door("oil", first_wait_s=0.05)
        wrong = Headers({"authorization": basic("no")})
        right = Headers({"authorization": basic("oil")})
        await asyncio.gather(*(door.let_in(wrong, "10.0.0.7") for _ in range(5)))
        slow, others = list(waits), len(waits)
        assert (await door.let_in(right, "10.0.0.8")).welcome
        assert len(waits) == others
        assert (await door.let_in(right, "10.0.0.7")).welcome
        return slow

    assert asyncio.run(tries()) == pytest.approx([0.05, 0.1, 0.2, 0.4])  # though all came at once


def test_many_wrong_tries_keep_nobody_out_who_knows_the_password():
    async def tries():
        door = Door("oil", first_wait_s=60.0)
        wrong, right = (Headers({"authorization": basic(word)}) for word in ("no", "oil"))
        waiting = [asyncio.create_task(door.let_in(wrong, "10.0.0.7")) for _ in range(20)]
        await asyncio.sleep(0)
        async with asyncio.timeout(1.0):
            assert (await door.let_in(right, "10.0.0.7")).welcome
            assert (await door.let_in(right, "10.0.0.8")).welcome
        for one in waiting:
            one.cancel()

    asyncio.run(tries())


def test_tries_are_bounded_of_one_address_and_of_all(monkeypatch):
    now = [0.0]
    monkeypatch.setattr("handslide.faces.web.password._clock_s", lambda: now[0])

    async def tries():
        door = Door("oil", first_wait_s=0.0)
        wrong, right = (Headers({"authorization": basic(word)}) for word in ("no", "oil"))
        assert (await door.let_in(right, "10.9.9.9")).welcome
        looked = [await door.let_in(wrong, "10.0.0.7") for _ in range(200)]
        assert sum(not one.later for one in looked) == TRIES
        many = [await door.let_in(wrong, f"10.1.{k}.1") for k in range(500)]
        assert sum(not one.later for one in many) == ALL_TRIES - TRIES - 1
        # Who was in before is in whatever others do; a try that wasn't looked at opens nothing.
        assert (await door.let_in(right, "10.9.9.9")).welcome
        assert not (await door.let_in(right, "10.2.2.2")).welcome
        now[0] += 10.0
        assert (await door.let_in(right, "10.2.2.2")).welcome

    asyncio.run(tries())


def test_a_try_too_many_is_told_to_wait(studio, monkeypatch):
    monkeypatch.setattr("handslide.faces.web.password._FIRST_WAIT_S", 0.0)
    # Tries come back with time, and a busy machine takes some for so many.
    monkeypatch.setattr("handslide.faces.web.password._clock_s", lambda: 0.0)
    home = browse(create_app(studio, Rules(password="oil the slide")))
    monkeypatch.setattr("handslide.faces.web.password._LONGEST_WAIT_S", 0.0)
    found = [home.get("/", headers={"Authorization": basic("x")}) for _ in range(TRIES + 1)]
    assert [one.status_code for one in found] == [401] * TRIES + [429]
    assert "Retry-After" in found[-1].headers


def test_behind_a_proxy_its_name_is_let_in_and_who_it_names_is_counted(studio):
    rules = Rules(password="oil the slide", public="studio.example.org")
    home = browse(create_app(studio, rules), Host="studio.example.org")
    good = {"Authorization": basic("oil the slide")}
    answer = home.get("/", headers=good)
    assert answer.status_code == 200 and "Secure" in answer.headers["Set-Cookie"]
    for origin, status in (("https://studio.example.org", 405), (EVIL, 403)):
        assert home.post("/", headers={**good, "Origin": origin}).status_code == status
    for host in ("studio.example.com", "evil.studio.example.org", "studio.example.org:99"):
        assert home.get("/", headers={**good, "Host": host}).status_code == 421
    guard = Guard(None, rules)
    asked = {"type": "http", "client": ("127.0.0.1", 9), "headers": [
        (b"x-forwarded-for", b"6.6.6.6, 10.0.0.9")]}  # fmt: skip
    assert guard._client(Request(asked)) == "10.0.0.9"
    assert guard._client(Request({**asked, "client": ("10.0.0.5", 9)})) == "10.0.0.5"
    assert Guard(None, Rules())._client(Request(asked)) == "127.0.0.1"


@pytest.mark.parametrize("origin", ["http://[", "http://[::1", "//", "http://a]b", "\x00", "null"])
def test_an_origin_or_referer_of_any_form_is_no_traceback(studio, origin):
    home = client(studio)
    assert home.post("/", headers={"Origin": origin}).status_code == 403
    assert home.get("/no/such", headers={"Referer": origin}).status_code == 404
    with pytest.raises(WebSocketDisconnect), home.websocket_connect(
        "/live", headers={"Origin": origin}
    ) as line:  # fmt: skip
        line.receive_text()


@pytest.mark.parametrize("path", ["/", "/no/such/page"])
def test_what_drips_after_its_answer_is_cut_off(studio, path):
    class Hasty(Protocol):
        rest_s = head_s = 0.5

    with serving(studio, http=Hasty) as address, calling(address) as line:
        port = urlsplit(address).port
        line.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
                     "Content-Length: 100000\r\n\r\n".encode())  # fmt: skip
        end = time.monotonic() + 8.0
        with pytest.raises((ConnectionError, BrokenPipeError)):
            while time.monotonic() < end:
                line.sendall(b"x")
                time.sleep(0.05)
        assert time.monotonic() < end


def test_a_head_that_drips_is_cut_off(studio):
    class Hasty(Protocol):
        head_s = 0.5

    with serving(studio, http=Hasty) as address, calling(address) as line:
        end = time.monotonic() + 8.0
        with pytest.raises((ConnectionError, BrokenPipeError)):
            for sign in "GET / HTTP/1.1\r\n" + "X-A: b\r\n" * 1000:
                line.sendall(sign.encode())
                time.sleep(0.02)
        assert time.monotonic() < end


def test_who_reads_nothing_is_cut_off(studio):
    class Hasty(Protocol):
        unread_s = 0.5

    async def much(request):
        return PlainTextResponse("x" * 50_000_000)

    app = app_with(studio, "/much", much)
    with serving(studio, app, http=Hasty) as address, calling(address) as line:
        port = urlsplit(address).port
        line.sendall(f"GET /much HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        time.sleep(1.5)
        count = 0
        with contextlib.suppress(ConnectionError):
            while piece := line.recv(1_000_000):
                count += len(piece)
        assert count < 50_000_000


def test_which_addresses_are_this_machine():
    assert all(map(is_loopback, ("127.0.0.1", "127.3.2.1", "::1", "localhost")))
    assert not any(map(is_loopback, ("0.0.0.0", "::", "10.0.0.7", "bench.local", "")))


@pytest.mark.parametrize("digits", ["1" * 5000, "٣", "²", "-1", "1e3", "9" * 19])
def test_what_isnt_a_number_of_ours_is_one_sentence(studio, digits):
    """Python refuses to read more than 4300 digits, and SQLite to take more than 19."""
    pages = client(studio)
    for path in (
        "/students/{}", "/takes/{}.pdf", "/stands/{}/route", "/charts?student={}",
        "/charts/sheet.pdf?page={}", "/charts/class?only=1&student={}",
        "/students/marks?horn=tenor&student={}", "/takes?student={}", "/takes?after={}",
        "/parts?student={}", "/data/recordings/delete?student={}",
    ):  # fmt: skip
        got = pages.get(path.format(digits))
        assert got.status_code in (400, 404), (path, got.status_code)
        assert "Traceback" not in got.text and digits * 2 not in got.text


def test_a_choice_that_is_nested_too_deep_is_refused(studio):
    deep = {"content": b"[" * 100_000, "headers": {"Content-Type": "application/json"}}
    assert client(studio).post("/stands/1/choose", **deep).status_code == 400
