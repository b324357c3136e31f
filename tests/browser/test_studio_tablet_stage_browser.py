"""The stage on a tablet, in a browser with a microphone: it listens by https and sends its take."""

import numpy as np
import pytest
from played import RATE_HZ, write_wav
from tablets import a_stand, letting_in

from browser import chromium, fits, serious_findings, visiting
from handslide.faces.web.links import Wish
from handslide.sound.tones import harmonic_tone
from handslide.studio.takes.takes import list_takes

pytestmark = pytest.mark.browser
# The large number: B♭2 12 cents low is some 10 mm too far out, F3 is in its place.
READ = """() => {
  const [far, way] = ["far", "way"].map((id) => document.getElementById(id).textContent);
  if (!/^\\d+$/.test(far)) return far === "●" && way === "in place";
  return way === `${far} mm in` || way === `${far} mm out`;
}"""


def test_the_stage_listens_by_https_and_sends_its_take(example, tmp_path):
    stand, count = a_stand(example), len(list_takes(example))
    # B♭2, F3: 12 cents low and right.
    rng = np.random.default_rng(3)
    tones = [
        0.1 * harmonic_tone(hz, 1.2, RATE_HZ, phases=rng.uniform(0, 6.28, 30), fade_s=0.02)
        for hz in (116.54 * 2 ** (-12 / 1200), 174.61)
    ]
    gap = np.zeros(round(0.3 * RATE_HZ))
    sound = write_wav(tmp_path / "played.wav", np.concatenate([tones[0], gap, tones[1], gap]))
    with letting_in(example) as guests, chromium(microphone=sound) as browser:
        link = guests.send(Wish(stand, True, True, 60), "127.0.0.2", secure=True)
        with visiting(
            browser, link.origin, size="phone", ignore_https_errors=True, permissions=["microphone"]
        ) as device:
            device.goto(link.url)
            device.wait_for_selector("#score .hit")
            assert fits(device) and serious_findings(device) == []
            device.get_by_role("button", name="Record").click()
            device.wait_for_function(READ)
            tall = device.evaluate("getComputedStyle(document.getElementById('far')).fontSize")
            assert float(tall.removesuffix("px")) >= 120.0
            device.wait_for_function("() => document.getElementById('time').textContent >= '0:03'")
            device.get_by_role("button", name="Stop", exact=True).click()
            device.get_by_role("button", name="Send it to the teacher").click()
            device.wait_for_selector("#report li", timeout=60_000)
        assert len(list_takes(example)) == count + 1
