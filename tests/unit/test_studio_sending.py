"""Sending a part to a tablet: the teacher's pages, the server that tablets reach, its https."""

import base64
import hashlib
import os
import re
import socket
import ssl
import stat
import threading
import time
import urllib.error
import urllib.request
import zipfile
from urllib.parse import urlsplit

import pytest
from studio_pages import browse, words
from tablets import NETWORK, a_stand, letting_in

from handslide.edges.files.certificate import CERTIFICATE_NAME, KEY_NAME, given_certificate
from handslide.faces.web.app import create_app
from handslide.faces.web.guestdoor import seat_name
from handslide.faces.web.links import Wish
from handslide.faces.web.safety import Rules
from handslide.studio.care.archive import archive_file
from handslide.studio.care.erase import erase_student
from handslide.studio.people.students import list_students
from handslide.words.speech import speech

# The teacher's pages


def teacher(studio, guests, **headers):
    return browse(create_app(studio, None, guests), **headers)


def test_it_asks_first_and_only_then_lets_anything_in(example):
    with letting_in(example) as guests:
        home, stand = teacher(example, guests), a_stand(example)
        page = home.get(f"/send/stand/{stand.id}")
        text = words(page)
        assert "Let another device in?" in text and "never in a public one" in text
        for address in NETWORK:
            assert address in text
        assert 'value="60"' in page.text and guests.links.rows() == ()
        assert not running(guests)
        assert "No link is open" in words(home.get("/send"))


def running(guests):
    return [server for server in guests._servers.values() if server.serves]


def make(home, stand, **form):
    sent = {"what": "part", "minutes": "60", "address": NETWORK[0], **form}
    answer = home.post(f"/send/stand/{stand.id}", data=sent)
    assert answer.status_code == 303, words(answer)
    return answer.headers["location"]


def test_the_code_page_shows_a_code_until_it_is_used_and_then_no_more(example):
    with letting_in(example) as guests:
        home, stand = teacher(example, guests), a_stand(example)
        url = make(home, stand)
        (link,) = guests.links.rows()
        page = home.get(url)
        assert link.url in page.text and 'class="qr"' in page.text
        opened = words(home.get("/send"))
        assert "1 link is open" in opened and "not opened yet" in opened
        # What stands there stays there: the code isn't taken from under a camera.
        again = f"{url}/state?shows=code"
        assert again in page.text and home.get(again).status_code == 204
        guests.links.seat(link.code, link.origin)
        assert home.get(f"{url}/state?shows=device").status_code == 204
        for after in (home.get(url), home.get(again)):
            assert 'class="qr"' not in after.text and "the code is used up" in words(after)
        assert "opened at" in words(home.get("/send"))
        assert home.post(f"{url}/end").status_code == 303
        assert guests.links.rows() == ()
        assert home.get(url).status_code == 404
        after = home.get(f"{url}/state")
        assert "This link has ended" in words(after) and "hx-get" not in after.text


@pytest.mark.parametrize("page", ["/send", "/send/1", "/send/1/state"])
def test_a_student_who_is_erased_takes_the_links_along(example, page):
    with letting_in(example) as guests:
        home, stand = teacher(example, guests), a_stand(example)
        make(home, stand)
        erase_student(example, stand.student_id)
        answer = home.get(page)
        assert answer.status_code == (404 if page == "/send/1" else 200)
        assert guests.links.rows() == ()


def test_every_page_of_the_teacher_says_how_many_links_are_open(example):
    with letting_in(example) as guests:
        home, stand = teacher(example, guests), a_stand(example)
        pages = ("/", "/parts", "/data", f"/stands/{stand.id}", "/no/such")
        assert not any("links-key" in home.get(path).text for path in pages)
        for _ in range(2):
            make(home, stand)
        assert all("2 links to tablets are open" in home.get(path).text for path in pages)
        link = guests.links.rows()[0]
        _, seat = guests.links.seat(link.code, link.origin)
        # Not on the tablet: what else is open is nothing to it.
        status, shown = get(link.origin + "/", Cookie=f"{seat_name(link.origin)}={seat}")
        assert status == 200 and "score" in shown and "links-key" not in shown


def test_bad_wishes_are_one_sentence_each(example):
    with letting_in(example) as guests:
        home, stand = teacher(example, guests), a_stand(example)
        for form, told in (
            ({"minutes": "4"}, "5 to 480 minutes"),
            ({"minutes": "1e9"}, "whole number of minutes"),
            ({"address": "8.8.8.8"}, "isn't an address of this computer"),
            ({"address": "0.0.0.0"}, "isn't an address of this computer"),
            ({"address": ""}, "isn't an address of this computer"),
        ):
            sent = {"what": "part", "minutes": "60", "address": NETWORK[0], **form}
            answer = home.post(f"/send/stand/{stand.id}", data=sent)
            assert answer.status_code == 400 and told in words(answer), form
        assert guests.links.rows() == () and not running(guests)
        assert home.get("/send/stand/987654").status_code == 404
        assert home.get("/send/9").status_code == 404
        assert home.post("/send/9/end").status_code == 404


def test_other_sites_make_no_links(example):
    with letting_in(example) as guests:
        evil = {"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"}
        home, stand = teacher(example, guests, **evil), a_stand(example)
        sent = {"what": "part", "minutes": "60", "address": NETWORK[0]}
        assert home.post(f"/send/stand/{stand.id}", data=sent).status_code == 403
        assert guests.links.rows() == ()


def test_where_there_is_no_network_it_says_what_to_do(example):
    with letting_in(example) as guests:
        guests.addresses = tuple
        page = teacher(example, guests).get(f"/send/stand/{a_stand(example).id}")
        assert "Join the same Wi-Fi" in words(page) and "send-ask" not in page.text


def test_with_the_password_the_part_itself_is_shown_as_a_code(example):
    rules = Rules(address="192.168.1.20", password="oil the slide")
    login = "Basic " + base64.b64encode(b"t:oil the slide").decode()
    with letting_in(example) as guests:
        app = create_app(example, rules, guests)
        stand = a_stand(example)
        host = "192.168.1.20"
        home = browse(app, Host=host, Authorization=login, Origin=f"http://{host}")
        page = home.get(f"/send/stand/{stand.id}")
        assert f"http://192.168.1.20:8471/stands/{stand.id}" in page.text
        assert "the whole studio" in words(page)
        plain = teacher(example, guests).get(f"/send/stand/{stand.id}")
        assert "the whole studio" not in words(plain)


# The server for tablets


def get(url, context=None, **headers):
    handlers = [urllib.request.ProxyHandler({})]
    if context is not None:
        handlers.append(urllib.request.HTTPSHandler(context=context))
    opener = urllib.request.build_opener(*handlers)
    try:
        with opener.open(urllib.request.Request(url, headers=headers), timeout=10) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


def answers(origin):
    parts = urlsplit(origin)
    try:
        socket.create_connection((parts.hostname, parts.port), timeout=1).close()
    except OSError:
        return False
    return True


def gone(origin, within_s=6.0):
    end = time.monotonic() + within_s
    while answers(origin) and time.monotonic() < end:
        time.sleep(0.1)
    return not answers(origin)


def test_it_listens_while_a_link_is_open_and_only_at_its_address(example):
    stand = a_stand(example)
    with letting_in(example) as guests:
        first = guests.send(Wish(stand, False, False, 60), NETWORK[0], secure=False)
        second = guests.send(Wish(stand, False, False, 60), NETWORK[0], secure=False)
        assert first.origin == second.origin and first.origin.startswith("http://127.0.0.2:")
        port = urlsplit(first.origin).port
        assert get(first.origin + "/")[0] == 200
        assert get(first.origin + "/students/1")[0] == 403
        assert not answers(f"http://127.0.0.1:{port}")
        guests.links.end(first)
        time.sleep(1.5)
        assert get(second.origin + "/")[0] == 200
        guests.links.end(second)
        assert gone(second.origin)
        # It starts again when it is asked for.
        third = guests.send(Wish(stand, False, False, 60), NETWORK[0], secure=False)
        assert get(third.origin + "/")[0] == 200
    assert gone(third.origin, 1.0)


def has_ipv6():
    try:
        with socket.socket(socket.AF_INET6) as line:
            line.bind(("::1", 0))
        return True
    except OSError:
        return False


@pytest.mark.skipif(not has_ipv6(), reason="no IPv6 on this machine")
@pytest.mark.parametrize("secure", [False, True])
def test_a_network_of_the_sixth_version_works_too(example, secure):
    with letting_in(example) as guests:
        guests.addresses = lambda: ("::1",)
        link = guests.send(Wish(a_stand(example), secure, False, 60), "::1", secure=secure)
        assert re.fullmatch(r"https?://\[::1\]:\d+", link.origin)
        context = trusting(example.folder / CERTIFICATE_NAME) if secure else None
        assert get(link.origin + "/", context)[0] == 200
        port = link.origin.rpartition(":")[2]
        assert get(link.origin + "/", context, Host=f"evil.example:{port}")[0] == 421


@pytest.mark.parametrize("inside", [True, False])
def test_no_path_leads_around_the_door(example, inside):
    """Sent by hand: a client library would tidy them."""
    paths = (
        "/static/../app.py", "/static/../route", "/static/..%2froute", "/static/%2e%2e/students/1",
        "/static/style.css%00guest.js", "//students/1", "/%2froute", "/students/1",
        "/students/1%3f", "/%23/../students/1", "/join/../students/1", "/stands/1/music", "/live",
        "/takes", "/route/", "/ROUTE", "http://127.0.0.1/students/1", "/running?" + "0" * 32,
    )  # fmt: skip
    if not inside:
        paths += ("/static/style.css/../guest.js", "/static/%2e%2e/static/guest.js")
    names = [each.name.encode() for each in list_students(example)]
    with letting_in(example) as guests:
        link = guests.send(Wish(a_stand(example), False, False, 60), NETWORK[0], secure=False)
        host = link.origin.partition("://")[2]
        _, seat = guests.links.seat(link.code, link.origin)
        cookie = f"Cookie: {seat_name(link.origin)}={seat}\r\n" if inside else ""
        for path in paths:
            with socket.create_connection((NETWORK[0], int(host.rpartition(":")[2])), 5) as line:
                head = f"GET {path} HTTP/1.1\r\nHost: {host}\r\n{cookie}Connection: close"
                line.sendall(f"{head}\r\n\r\n".encode())
                answer = b"".join(iter(lambda: line.recv(65536), b""))
            status = answer.split()[1]
            assert not any(name in answer for name in names) and b"create_app" not in answer, path
            assert status in (b"400", b"403", b"404", b"307") and len(answer) < 2500, path
        with socket.create_connection((NETWORK[0], int(host.rpartition(":")[2])), 5) as line:
            head = f"GET / HTTP/1.1\r\nHost: {host}\r\nHost: evil.example"
            line.sendall(f"{head}\r\n\r\n".encode())
            assert line.recv(1000).split()[1] in (b"400", b"421")


def test_closing_stops_all_servers_and_their_threads(example):
    with letting_in(example) as guests:
        for address in NETWORK:
            guests.send(Wish(a_stand(example), False, False, 60), address, secure=False)
        assert len(running(guests)) == 2
        assert sum(one.name == "tablets" for one in threading.enumerate()) == 2
    assert not any(one.name == "tablets" for one in threading.enumerate())


def test_many_links_at_once_share_one_server(example):
    stand, found, troubles = a_stand(example), [], []
    with letting_in(example) as guests:

        def send():
            try:
                found.append(guests.send(Wish(stand, False, False, 60), NETWORK[0], secure=False))
            except Exception as error:
                troubles.append(error)

        threads = [threading.Thread(target=send) for _ in range(8)]
        for one in threads:
            one.start()
        for one in threads:
            one.join()
        assert troubles == [] and len({link.origin for link in found}) == 1
        assert len({link.code for link in found}) == 8


# https


def trusting(file):
    context = ssl.create_default_context(cafile=str(file))
    context.verify_flags &= ~ssl.VERIFY_X509_STRICT
    return context


def test_a_certificate_is_made_where_it_is_needed_and_its_key_is_private(example):
    stand = a_stand(example)
    with letting_in(example) as guests:
        guests.send(Wish(stand, False, False, 60), NETWORK[0], secure=False)
        assert not (example.folder / KEY_NAME).exists()
        home = teacher(example, guests)
        url = make(home, stand, what="stage")
        link = guests.links.rows()[0]
        assert link.origin.startswith("https://127.0.0.2:")
        file, key = example.folder / CERTIFICATE_NAME, example.folder / KEY_NAME
        assert stat.S_IMODE(key.stat().st_mode) == 0o600
        # A client that trusts this certificate and compares the address is content with it.
        assert get(link.origin + "/", trusting(file))[0] == 200
        with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
            get(link.origin + "/", ssl.create_default_context())
        # The fingerprint on the page is that of what the server shows.
        parts = urlsplit(link.origin)
        shown = ssl.get_server_certificate((parts.hostname, parts.port))

        digits = hashlib.sha256(ssl.PEM_cert_to_DER_cert(shown)).hexdigest().upper()
        pairs = [digits[k : k + 2] for k in range(0, 64, 2)]
        assert " ".join(pairs) in words(home.get(url)).replace("  ", " ")
        # The next one is the same: nobody has to compare again.
        before = file.read_bytes()
        guests.links.end_all()
        assert gone(link.origin)
        guests.send(Wish(stand, True, False, 60), NETWORK[0], secure=True)
        assert file.read_bytes() == before
        # For another address another one is made.
        guests.send(Wish(stand, True, False, 60), NETWORK[1], secure=True)
        assert file.read_bytes() != before


def test_the_cookie_of_https_is_for_https_only(example):
    with letting_in(example) as guests:
        link = guests.send(Wish(a_stand(example), True, False, 60), NETWORK[0], secure=True)
        context = trusting(example.folder / CERTIFICATE_NAME)
        sent = urllib.request.Request(
            link.origin + "/join",
            data=f"code={link.code}".encode(),
            headers={"Origin": link.origin},
        )

        class Stay(urllib.request.HTTPRedirectHandler):
            def redirect_request(self, *_):
                return None

        opener = urllib.request.build_opener(
            urllib.request.ProxyHandler({}), Stay, urllib.request.HTTPSHandler(context=context)
        )
        with pytest.raises(urllib.error.HTTPError) as gone_on:
            opener.open(sent, timeout=10)
        assert gone_on.value.code == 303 and "Secure" in gone_on.value.headers["Set-Cookie"]
        gone_on.value.close()


def test_the_key_is_not_exported(example):
    with letting_in(example) as guests:
        guests.send(Wish(a_stand(example), True, False, 60), NETWORK[0], secure=True)
    key = (example.folder / KEY_NAME).read_bytes()
    file, _ = archive_file(example, speech("en"))
    with file, zipfile.ZipFile(file) as archive:
        assert not any("tablet" in name or name.endswith(".pem") for name in archive.namelist())
        assert not any(key in archive.read(name) for name in archive.namelist())


def test_the_users_own_certificate(example, tmp_path):
    from certificates import for_host

    file, key = for_host(tmp_path, "studio.example.org", NETWORK[0])
    own = given_certificate(file, key)
    assert own.hosts == ("studio.example.org", NETWORK[0]) and not own.made_here
    with letting_in(example, certificate=own) as guests:
        home = teacher(example, guests)
        url = make(home, a_stand(example))
        link = guests.links.rows()[0]
        # With it the part goes by https too, and nothing has to be compared.
        assert link.origin.startswith(f"https://{NETWORK[0]}:")
        assert get(link.origin + "/", trusting(file))[0] == 200
        assert "fingerprint" not in words(home.get(url))
        # An address that isn't in it is reached by its name.
        by_name = guests.send(Wish(a_stand(example), False, False, 60), NETWORK[1], secure=True)
        assert by_name.origin.startswith("https://studio.example.org:")
        port = urlsplit(by_name.origin).port
        there = f"https://{NETWORK[1]}:{port}/"
        context = trusting(file)
        context.check_hostname = False
        assert get(there, context, Host=f"studio.example.org:{port}")[0] == 200
        assert get(there, context)[0] == 421
    assert not (example.folder / KEY_NAME).exists()


@pytest.mark.skipif(os.name != "posix", reason="rights as on POSIX")
def test_a_lost_key_is_made_anew(example):
    with letting_in(example) as guests:
        guests.send(Wish(a_stand(example), True, False, 60), NETWORK[0], secure=True)
    (example.folder / KEY_NAME).write_bytes(b"broken")
    with letting_in(example) as guests:
        link = guests.send(Wish(a_stand(example), True, False, 60), NETWORK[0], secure=True)
        assert get(link.origin + "/", trusting(example.folder / CERTIFICATE_NAME))[0] == 200
    assert stat.S_IMODE((example.folder / KEY_NAME).stat().st_mode) == 0o600
