"""Words that are cut off in a page: what is chosen in a list, what stands on a button."""

# The sign at the end of a list, and the gap before it.
_SIGN_PX = 16

_CUT = """
(sign) => {
  const pen = document.createElement('canvas').getContext('2d');
  const found = [];
  const room = (one, style) =>
    one.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
  const look = (one) => {
    const style = getComputedStyle(one);
    if (!(one instanceof HTMLSelectElement)) {
      const wide = one.scrollWidth > one.clientWidth + 1;
      const beyond = wide || one.scrollHeight > one.clientHeight + 4;
      if (beyond) found.push([one.textContent.trim(), 'button']);
      return;
    }
    pen.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const text = one.selectedOptions[0]?.text.trim() ?? '';
    // What may go on in another line has to fit word by word, else as a whole.
    const pieces = style.whiteSpace === 'normal' ? text.split(/[ \\u2010-]+/) : [text];
    const widest = Math.max(...pieces.map((piece) => pen.measureText(piece).width));
    const left = room(one, style) - sign;
    if (widest > left + 1 || one.scrollHeight > one.clientHeight + 1) {
      found.push([text, `${Math.round(widest)} px in ${Math.round(left)}`]);
    }
  };
  for (const over of document.querySelectorAll('details')) over.open = true;
  for (const within of [document.body, ...document.querySelectorAll('dialog')]) {
    if (within !== document.body) within.showModal();
    for (const one of within.querySelectorAll('select, button, .button, .key')) {
      if (one.checkVisibility() && (one.closest('dialog') ?? document.body) === within) look(one);
    }
    if (within !== document.body) within.close();
  }
  for (const over of document.querySelectorAll('.bar-more, .files')) over.open = false;
  return found;
}
"""


def cut_words(page):
    """[words, where] of each list and button of the open page that doesn't hold its own words."""
    return page.evaluate(_CUT, _SIGN_PX)
