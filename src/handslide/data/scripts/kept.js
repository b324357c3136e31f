// What a page remembers on its device. Where nothing may be kept, it forgets.

const BEGINS = "handslide.";

/**
 * @param {string} name
 * @returns {string | null}
 */
export function recall(name) {
  try {
    return localStorage.getItem(BEGINS + name);
  } catch {
    return null;
  }
}

/**
 * @param {string} name
 * @param {string} value
 */
export function remember(name, value) {
  try {
    localStorage.setItem(BEGINS + name, value);
  } catch {
    // Nothing may be kept here.
  }
}
