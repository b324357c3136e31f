"""What a page in a browser keeps from those who use no mouse, see little or want no motion."""

from browser import fits

WIDTHS = (320, 2560)
_FOCUSABLE = "a[href], button, input, select, textarea, summary, label, audio, [tabindex], dialog"
_TOOLS = """
(() => {
  const shown = (one) => one.checkVisibility({ visibilityProperty: true }) &&
    [...one.getClientRects()].some(({ width, height }) => width > 0 && height > 0);
  const told = (one) => one.outerHTML.replace(/\\s+/g, ' ').slice(0, 110);
  const all = () => [...document.querySelectorAll('body *')].filter(shown);
  // In forced colours what is clear keeps its transparency and nothing else.
  const clear = (colour) => /^rgba.*, 0\\)$/.test(colour);
  const ground = (one) => {
    for (; one; one = one.parentElement) {
      const { backgroundColor } = getComputedStyle(one);
      if (!clear(backgroundColor)) return backgroundColor;
    }
    return '';
  };
  const edged = (one, part) => {
    const style = getComputedStyle(one, part);
    return ['Top', 'Right', 'Bottom', 'Left'].some((side) => {
      const of = (what) => style['border' + side + what];
      return of('Style') !== 'none' && parseFloat(of('Width')) > 0 && !clear(of('Color'));
    });
  };
  const empty = (one, part) => getComputedStyle(one, part).content === '""';
  const coloured = (one, part) => {
    const { backgroundColor } = getComputedStyle(one, part);
    return !clear(backgroundColor) && backgroundColor !== ground(part ? one : one.parentElement);
  };
  const look = (one) => {
    const style = getComputedStyle(one);
    const outline = style.outlineStyle === 'none' ? '' : style.outlineWidth;
    const { boxShadow, borderColor, backgroundColor, stroke } = style;
    return [outline, boxShadow, borderColor, backgroundColor, stroke].join();
  };
  window.sweep = {
    mouseOnly: (focusable) => all().filter((one) => {
      const points = (it) => it && getComputedStyle(it).cursor === 'pointer';
      return points(one) && !points(one.parentElement) && !one.closest(focusable);
    }).map(told),
    // What is round it may show it: a label for a field that is drawn otherwise.
    unseenFocus: (focusable) => [...document.querySelectorAll(focusable)].filter((one) => {
      if (!shown(one) || one.disabled || one.closest('dialog:not([open])')) return false;
      if (one.tabIndex < 0) return false;
      const parent = one.parentElement;
      const inner = one instanceof SVGElement ? [...one.children] : [];
      const outer = [parent, parent.parentElement, ...(one.labels ?? [])];
      const around = [one, ...outer, ...inner];
      document.activeElement.blur();
      const before = around.map(look);
      one.focus({ preventScroll: true });
      return document.activeElement === one && around.map(look).join('|') === before.join('|');
    }).map(told),
    moving: () => [
      ...document.getAnimations().filter(({ playState }) => playState === 'running')
        .map(({ effect }) => told(effect.target)),
      ...all().filter((one) => getComputedStyle(one).transitionDuration.split(',')
        .some((time) => parseFloat(time) > 0.01)).map(told),
    ],
    // Signs that are nothing but a colour: their own ground, no text, no edge.
    signs: () => {
      const bare = (one) => !one.children.length && !one.textContent.trim() &&
        !one.matches('input, select, textarea, progress, meter, audio, img, iframe, option');
      window.sweep.kept = all().filter((one) => one instanceof HTMLElement).flatMap((one) => [
        ...(bare(one) ? [[one, null]] : []),
        ...['::before', '::after'].filter((part) => empty(one, part)).map((part) => [one, part]),
      ]).filter(([one, part]) => !edged(one, part) && coloured(one, part));
      return window.sweep.kept.length;
    },
    // What was there for a moment (a page that works) may have gone by itself.
    gone: () => window.sweep.kept.filter(([one, part]) => shown(one) && (!part || empty(one, part)))
      .filter(([one, part]) => !edged(one, part) && !coloured(one, part))
      .map(([one, part]) => (part ?? '') + told(one)),
  };
})()
"""


def unfair(page, widths=WIDTHS):
    """(what, where) of the page that is open: by keyboard, without motion, in forced colours, and
    beyond windows of these ``widths``."""
    size = page.viewport_size
    page.evaluate(_TOOLS)
    page.evaluate("sweep.signs()")
    page.emulate_media(reduced_motion="reduce")
    found = [("moves", one) for one in page.evaluate("sweep.moving()")]
    found += [("by mouse alone", one) for one in page.evaluate(f"sweep.mouseOnly({_FOCUSABLE!r})")]
    page.keyboard.press("Tab")
    found += [
        ("focus isn't seen", one) for one in page.evaluate(f"sweep.unseenFocus({_FOCUSABLE!r})")
    ]
    page.emulate_media(forced_colors="active")
    found += [("gone in forced colours", one) for one in page.evaluate("sweep.gone()")]
    page.emulate_media(forced_colors="none")
    for width in widths:
        page.set_viewport_size({"width": width, "height": size["height"]})
        if not fits(page):
            found.append(("beyond the window", f"{width} px"))
    if widths:
        page.set_viewport_size(size)
    return found
