"""What sounds and moves in the browser: tones, the slide, the player."""

import base64
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from browser import chromium, serving, visiting
from handslide.edges.store.students import StudentValues
from handslide.ground.units import cents, midi_to_hz
from handslide.instrument.line import parse_line
from handslide.jobs.mark.playback import playback
from handslide.jobs.mark.routed import place_json, route
from handslide.jobs.setup import make_setup
from handslide.sound.notes import hear
from handslide.sound.stream import Listener
from handslide.sound.tones import brass_levels
from handslide.studio.parts.scores import add_score
from handslide.studio.parts.stand import open_stand
from handslide.studio.people.horns import add_horn
from handslide.studio.people.students import add_student
from handslide.studio.studio import open_studio

pytestmark = pytest.mark.browser
RATE_HZ = 48_000
LANTERNS = Path(__file__).parents[2] / "examples" / "lanterns.musicxml"

RENDER = """
async ([seconds, events, volume]) => {
  const { Desk } = await import("/static/tone.js");
  const context = new OfflineAudioContext(1, seconds * 48000, 48000);
  const desk = new Desk(context, volume);
  for (const event of events) {
    if (event.click) desk.click(event.at, event.strong);
    else desk.tone(event);
  }
  const samples = (await context.startRendering()).getChannelData(0);
  const bytes = new Uint8Array(samples.buffer);
  let text = "";
  for (let k = 0; k < bytes.length; k += 32768)
    text += String.fromCharCode(...bytes.subarray(k, k + 32768));
  return btoa(text);
}
"""


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """(address, browser, stand) with a part on a student's stand."""
    studio = open_studio(tmp_path_factory.mktemp("studio"))
    student = add_student(studio, StudentValues(name="Ada Lindqvist", reach=6.0))
    add_horn(studio, student.id, "tenor-f")
    added = add_score(studio, LANTERNS.read_bytes(), LANTERNS.name)
    stand = open_stand(studio, student.id, added.score.id)
    with serving(studio) as address, chromium() as browser:
        yield address, browser, stand
    studio.close()


@pytest.fixture(scope="module")
def page(shown):
    address, browser, _ = shown
    with visiting(browser, address) as page:
        page.goto("/help")
        yield page


def rendered(page, seconds, events, volume=0.4):
    data = base64.b64decode(page.evaluate(RENDER, [seconds, events, volume]))
    return np.frombuffer(data, np.float32).astype(float)


@pytest.mark.parametrize("midi", [34, 46, 51, 58, 65, 70])
def test_a_tone_has_exactly_its_pitch(page, midi):
    hz = midi_to_hz(midi, 442.0)
    samples = rendered(page, 2.5, [{"hz": hz, "at": 0.2, "length": 2.0}])
    (note,) = hear(samples, RATE_HZ).notes
    assert abs(cents(note.f0_hz / hz)) < 0.1
    assert note.start_s == pytest.approx(0.2, abs=0.03)
    assert note.end_s == pytest.approx(2.2, abs=0.06)


@pytest.mark.parametrize("hz", [58.27, 155.6, 466.2])
def test_the_harmonics_are_those_of_the_studios_tones(page, hz):
    ours = page.evaluate("async (hz) => (await import('/static/tone.js')).levels(hz, 48000)", hz)
    np.testing.assert_allclose(ours, brass_levels(hz, RATE_HZ), rtol=1e-9)


def harmonics(samples, hz, count):
    """Levels of the harmonics of the middle second, for a pitch of whole hertz."""
    spectrum = np.abs(np.fft.rfft(samples[RATE_HZ // 2 : RATE_HZ * 3 // 2])) / (RATE_HZ / 2)
    return spectrum[hz * np.arange(1, count + 1)]


def test_the_loudest_tone_sounds_as_the_levels_say_and_softer_ones_are_darker(page):
    tone = {"hz": 150, "at": 0.1, "length": 1.8}
    loud = harmonics(rendered(page, 2, [{**tone, "loud": 1}]), 150, 20)
    soft = harmonics(rendered(page, 2, [{**tone, "loud": 0.2}]), 150, 20)
    wanted = brass_levels(150, RATE_HZ)[:20]
    np.testing.assert_allclose(loud / loud[2], wanted / wanted[2], rtol=0.03)
    drop_db = 20 * np.log10((soft / soft[2]) / (loud / loud[2]))
    assert abs(drop_db[1]) < 1
    assert drop_db[15] < -10


def test_nothing_clicks(page):
    """A click would be heard above 12 kHz, where these tones have nothing."""
    events = [
        {"hz": 116.5, "at": 0.1, "length": 0.5},
        {"hz": 155.6, "at": 0.6, "length": 0.5, "slurTo": True},
        {"hz": 174.6, "at": 1.1, "length": 0.5, "slurFrom": True},
        {"hz": 233.1, "at": 1.65, "length": 0.06},
        {"hz": 146.8, "at": 1.8, "length": 0.6, "glideTo": {"hz": 174.6, "s": 0.4}},
    ]
    samples = rendered(page, 2.6, events)
    window = np.hanning(1024)
    frames = np.lib.stride_tricks.sliding_window_view(samples, 1024)[::256] * window
    spectrum = np.abs(np.fft.rfft(frames, axis=1)) ** 2
    high = spectrum[:, 1024 * 12_000 // RATE_HZ :].sum(axis=1)
    assert 10 * np.log10(high.max() / spectrum.sum(axis=1).max()) < -70
    # The measure sees one: a tone cut off without its fade.
    cut = samples.copy()
    cut[round(0.35 * RATE_HZ) :] = 0
    frames = np.lib.stride_tricks.sliding_window_view(cut, 1024)[::256] * window
    power = np.abs(np.fft.rfft(frames, axis=1)) ** 2
    high = power[:, 1024 * 12_000 // RATE_HZ :].sum(axis=1)
    assert 10 * np.log10(high.max() / power.sum(axis=1).max()) > -60


def test_nothing_clips_however_much_sounds_at_once(page):
    crowd = [{"hz": hz, "at": 0.1, "length": 1, "loud": 1} for hz in (58, 116, 155, 174, 233, 311)]
    crowd += [{"click": True, "at": 0.3, "strong": True}] * 3
    samples = rendered(page, 1.5, crowd, 1.0)
    assert 0.9 < np.abs(samples).max() <= 0.981
    alone = rendered(page, 1.5, crowd[1:2], 1.0)
    assert np.abs(alone).max() < 0.8


def test_a_slur_has_no_gap_and_a_glissando_glides(page):
    slurred = [
        {"hz": 155.6, "at": 0.1, "length": 0.6, "slurTo": True},
        {"hz": 174.6, "at": 0.7, "length": 0.6, "slurFrom": True},
    ]
    samples = rendered(page, 1.5, slurred)
    level = np.sqrt(np.convolve(samples**2, np.ones(960) / 960, "same"))
    inside = level[round(0.2 * RATE_HZ) : round(1.2 * RATE_HZ)]
    assert inside.min() > 0.5 * np.median(inside)
    glide = [{"hz": 150, "at": 0.0, "length": 1.0, "glideTo": {"hz": 200, "s": 0.7}}]
    samples = rendered(page, 1.2, glide)
    moments = Listener(RATE_HZ).push(samples)
    heard = {round(m.time_s, 2): m.f0_hz for m in moments if m.f0_hz}
    middle = min(heard, key=lambda second: abs(second - 0.65))
    expected = 150 * (200 / 150) ** ((middle - 0.3) / 0.7)
    assert abs(cents(heard[middle] / expected)) < 25
    assert abs(cents(heard[min(heard, key=lambda s: abs(s - 0.2))] / 150)) < 3


def test_just_notes_stand_in_whole_ratios_to_the_root(page):
    found = page.evaluate(
        """async () => { const { justHz, midiHz } = await import("/static/tone.js");
        return [justHz(58, 46), justHz(53, 46), justHz(50, 46), justHz(39, 46), midiHz(46)]; }"""
    )
    root = found[4]
    assert np.array(found[:4]) / root == pytest.approx([2, 3 / 2, 5 / 4, 2 / 3])


# The player

PLAY = """
async ([route, options, rate, range, start, until]) => {
  const { Player } = await import("/static/player.js");
  const player = new Player();
  window.player = player;
  const seen = [];
  // Times as heard: behind the clock by what the sound takes to come out.
  const heard = ({ context }) => context ? context.currentTime - (context.outputLatency || 0) : 0;
  const note = (kind) => ({ detail }) =>
    seen.push([kind, heard(player), detail.i ?? detail.note?.i ?? null,
               detail.state ?? detail.ms ?? null]);
  for (const kind of ["cursor", "move", "state"]) player.addEventListener(kind, note(kind));
  Object.assign(player.options, options);
  player.setRoute(route);
  player.setRange(range);
  player.setRate(rate);
  if (start !== null) player.setStart(start);
  await player.play();
  const begin = player.t0;
  await new Promise((done) => {
    const wait = setInterval(() => {
      if (player.state === "stopped" || player.context.currentTime > until) {
        clearInterval(wait);
        player.stop();
        player.context.close();
        done();
      }
    }, 20);
  });
  return { seen, begin };
}
"""
PLAIN = {"countIn": False, "metronome": True, "loop": False}


def route_of(text):
    """The JSON of a typed line for the player, on a tenor with F valve; a quarter is 0.5 s."""
    typed = parse_line(text, 120)
    setup = make_setup("tenor-f")
    routed = route(setup, typed.line, typed.pitches)
    count = len(typed.line)
    end_s = float(typed.line.onset_s[-1] + typed.line.length_s[-1])
    part = SimpleNamespace(
        played=tuple(range(count)),
        onset_s=tuple(typed.line.onset_s.tolist()),
        length_s=tuple(typed.line.length_s.tolist()),
        slur=tuple(typed.line.slur.tolist()),
        gliss=tuple(typed.line.gliss.tolist()),
        notes=[SimpleNamespace(sounding=pitch) for pitch in typed.pitches],
        beats_s=tuple((0.5 * k, k % 4 == 0) for k in range(round(end_s / 0.5))),
    )
    notes = [{"i": i, **place_json(setup, routed.places.get(i))} for i in range(count)]
    return {**playback(routed, part), "notes": notes, "tempo_qpm": 120}


def times(seen, kind):
    return [row[1] for row in seen if row[0] == kind and row[2] is not None]


def numbers(seen, kind):
    return [row[2] for row in seen if row[0] == kind]


def test_the_notes_come_in_order_at_their_time(page):
    row = route_of("Bb2 (C3 D3) Eb3 r F3:1/2 G3:1/2")
    found = page.evaluate(PLAY, [row, PLAIN, 1.0, None, None, 20])
    seen, begin = found["seen"], found["begin"]
    assert numbers(seen, "cursor") == [0, 1, 2, 3, 4, 5, None]
    due = begin + np.array([one["on_s"] for one in row["played"]])
    late = np.array(times(seen, "cursor")) - due
    assert late.min() > -0.005 and np.median(late) < 0.05 and late.max() < 0.25


def test_the_slide_moves_in_the_last_part_of_each_note(page):
    row = route_of("Bb2 A2 Ab2 G2 r F2")
    found = page.evaluate(PLAY, [row, PLAIN, 1.0, None, None, 20])
    seen, begin = found["seen"], found["begin"]
    moves = [one for one in seen if one[0] == "move"]
    # First to the first place, then to each next one.
    assert [one[2] for one in moves] == [0, 1, 2, 3, 4]
    for move, played in zip(moves[1:], row["played"][1:]):
        assert move[3] == pytest.approx(1000 * played["move_s"], abs=0.1)
        late = move[1] - (begin + played["on_s"] - played["move_s"])
        assert -0.005 < late < 0.25


def test_twice_the_tempo_takes_half_the_time(page):
    row = route_of("Bb2 C3 D3 Eb3")
    found = page.evaluate(PLAY, [row, PLAIN, 2.0, None, None, 20])
    at = times(found["seen"], "cursor")
    assert at[-1] - at[0] == pytest.approx(0.75, abs=0.12)


def test_the_count_in_is_one_measure_and_says_its_beats(page):
    row = route_of("Bb2 C3 D3 Eb3 F3 G3 A3 Bb3")
    found = page.evaluate(PLAY, [row, {**PLAIN, "countIn": True}, 2.0, None, None, 2.5])
    first = times(found["seen"], "cursor")[0]
    begin = found["begin"]
    assert first == pytest.approx(begin, abs=0.1)
    playing = [one for one in found["seen"] if one[0] == "state" and one[3] == "playing"]
    beats = [one[1] for one in playing][1:5]
    assert np.diff(beats) == pytest.approx(0.25, abs=0.1)


def test_a_loop_keeps_to_the_chosen_measures(page):
    row = route_of("Bb2 C3 D3 Eb3 F3 Eb3 D3 C3 Bb2 D3 F3 D3")
    options = {**PLAIN, "loop": True}
    found = page.evaluate(PLAY, [row, options, 2.0, {"from": 4, "to": 7}, None, 3.0])
    seen = numbers(found["seen"], "cursor")[:-1]
    assert seen[:8] == [4, 5, 6, 7, 4, 5, 6, 7]
    at = times(found["seen"], "cursor")
    assert at[4] - at[0] == pytest.approx(1.0, abs=0.1)


def test_play_begins_with_the_chosen_note(page):
    row = route_of("Bb2 C3 D3 Eb3")
    found = page.evaluate(PLAY, [row, PLAIN, 2.0, None, 2, 20])
    assert numbers(found["seen"], "cursor") == [2, 3, None]


def test_pausing_and_a_new_tempo_lose_no_note(page):
    row = route_of("Bb2 C3 D3 Eb3 F3 G3")
    seen = page.evaluate(
        """async (route) => {
          const { Player } = await import("/static/player.js");
          const player = new Player();
          const seen = [], wait = (ms) => new Promise((done) => setTimeout(done, ms));
          player.addEventListener("cursor", ({ detail }) => seen.push(detail.i));
          player.options.countIn = false;
          player.setRoute(route);
          await player.play();
          await wait(800);
          player.pause();
          seen.push("pause");
          await wait(300);
          const still = seen.length;
          await player.play();
          await wait(200);
          player.setRate(2);
          await wait(1600);
          player.context.close();
          return seen.concat([still]);
        }""",
        row,
    )
    pause = seen.index("pause")
    assert seen[:pause] == [0, 1] and seen[-1] == pause + 1
    assert seen[pause + 1 : -1] == [1, 2, 3, 4, 5, None]


# On the page of a part


@pytest.fixture
def part(shown):
    address, browser, stand = shown
    with visiting(browser, address) as page:
        page.add_init_script(
            """window.seen = [];
            document.addEventListener("hs:cursor", ({ detail }) => window.seen.push(detail.i));
            document.addEventListener("hs:route", ({ detail }) => (window.route = detail));"""
        )
        page.goto(f"/stands/{stand}")
        until(page, "window.route && document.querySelector('.slide-words')?.textContent")
        settings(page)
        page.locator("#player input[name=countIn]").uncheck()
        settings(page)
        yield page


def settings(page):
    """Open or close the player's menu."""
    page.locator("#player summary").click()


def until(page, script, seconds=30.0):
    end = time.monotonic() + seconds
    while not (found := page.evaluate(script)):
        assert time.monotonic() < end, f"never true: {script}"
        page.wait_for_timeout(30)
    return found


def faster(page):
    page.locator("#player-tempo").evaluate(
        "(one) => { one.value = 200; one.dispatchEvent(new Event('input')); }"
    )


def test_a_key_plays_the_part_and_the_slide_goes_along(part):
    faster(part)
    part.locator("h1").click()
    part.keyboard.press("m")
    until(part, "window.seen.length >= 8")
    part.keyboard.press(" ")
    until(part, "document.getElementById('player').dataset.state === 'paused'")
    seen = part.evaluate("window.seen")
    played = [row["i"] for row in part.evaluate("window.route.played")]
    assert seen == played[: len(seen)]
    last = part.evaluate("window.route.notes")[seen[-1]]
    near = part.evaluate("window.route.notes")[played[len(seen)]]
    words = part.locator(".slide-words").inner_text()
    assert any(f"{one['extension_mm'] / 10:.1f} cm" in words for one in (last, near))


def test_a_key_in_a_field_doesnt_play(part):
    part.locator("summary[aria-label='More']").click()
    part.locator("#from").focus()
    part.keyboard.press("m")
    part.wait_for_timeout(300)
    assert part.locator("#player").get_attribute("data-state") == "stopped"


def test_only_the_chosen_measures_are_looped(part):
    faster(part)
    part.locator("summary[aria-label='More']").click()
    part.locator("#from").select_option(index=2)
    part.locator("#until").select_option(index=2)
    settings(part)
    part.locator("#player input[name=loop]").check()
    settings(part)
    part.locator("#player button").first.click()
    inside = part.evaluate("window.route.notes.filter((one) => one.mi === 1).map((one) => one.i)")
    until(part, f"window.seen.length >= {2 * len(inside) + 1}")
    part.locator("#player button").nth(1).click()
    seen = part.evaluate("window.seen")
    assert seen[: 2 * len(inside)] == inside * 2
    assert seen[-1] is None


def test_play_begins_softly_each_time(part):
    assert part.locator("#player-volume").input_value() == "40"
    settings(part)
    part.locator("#player-volume").fill("90")
    part.reload()
    until(part, "document.getElementById('player-volume')")
    assert part.locator("#player-volume").input_value() == "40"
    assert "hearing" in part.locator("#player .hint").text_content()


def test_a_player_that_comes_late_still_gets_the_route(shown):
    address, browser, stand = shown
    with visiting(browser, address) as page:
        page.add_init_script(
            "document.addEventListener('hs:route', ({ detail }) => (window.route = detail));"
        )
        # The script comes only when the route is there.
        held = []
        page.route("**/tone.js", lambda route: held.append(route))
        page.goto(f"/stands/{stand}", wait_until="commit")
        until(page, "window.route")
        held[0].continue_()
        until(page, "document.querySelector('.slide-words')?.textContent")
