// Where a tablet gives its code: a scanned one stands behind the # of the address and is given at
// once. It was not sent with the address, so nothing that looks the address up uses it.

const form = document.getElementById("join");
const field = document.getElementById("code");

function give() {
  const code = location.hash.slice(1);
  if (!code || !(form instanceof HTMLFormElement) || !(field instanceof HTMLInputElement)) return;
  history.replaceState(null, "", "/");
  field.value = code;
  form.requestSubmit();
}

// A page that the browser makes ready in advance isn't opened yet.
if ("prerendering" in document && document.prerendering) {
  document.addEventListener("prerenderingchange", give, { once: true });
} else give();
window.addEventListener("hashchange", give);
