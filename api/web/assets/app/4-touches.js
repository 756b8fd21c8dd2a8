// What a touch does.

document.addEventListener("click", (e) => {
  const link = e.target.closest("main a[href], .bar nav a[href]");
  if (link && inSetup(location.pathname) && inSetup(link.pathname) && !e.ctrlKey && !e.metaKey && !e.shiftKey) {
    e.preventDefault();
    go({ what: said(link), to: link.href, get: true });
  }
  if (e.target.closest("#replacing button")) {
    document.querySelectorAll(".use details[open]").forEach((d) => { d.open = false; });
    scanField().focus();
  }
});

// A picture is sent as soon as it is taken.
document.addEventListener("change", (e) => {
  const el = e.target;
  if (el.id === "picture" && el.files.length > 0) {
    el.form.querySelector("button").textContent = "Reading the picture …";
    el.form.requestSubmit();
  }
});

document.addEventListener("submit", (e) => {
  const form = e.target;
  if (form.method !== "post") {
    return;
  }
  if (form.matches("form.scan, form.replace")) {
    e.preventDefault();
    const field = form.matches("form.scan") ? scanField() : form.elements.text;
    const pieces = form.elements.quantity;
    const stray = pieces ? strayCode(pieces) : "";
    if (stray && field.value.trim() === "") {
      field.value = stray;
    }
    if (field.value.trim() !== "") {
      take(field.value, pieces ? pieces.value : "1", field);
      field.value = "";
      if (pieces) {
        pieces.value = "1";
      }
    }
    scanField().focus();
    return;
  }
  // One touch, one request. The server records once in any case.
  if (form.dataset.sent) {
    e.preventDefault();
    return;
  }
  form.dataset.sent = "1";
  document.body.setAttribute("aria-busy", "true");
  const to = form.getAttribute("action");
  if (inSetup(location.pathname) && inSetup(to)) {
    // A scan that comes meanwhile waits for the answer.
    e.preventDefault();
    const data = new FormData(form, e.submitter);
    go({ what: said(e.submitter || form), to, from: panel(form), body: form.enctype === "multipart/form-data" ? data : new URLSearchParams(data) });
  }
});
const said = (el) => el.textContent.trim().replace(/\s+/g, " ");

// Back and forward, among pages that were shown in one document.
window.addEventListener("popstate", () => {
  if (location.pathname + location.search !== address) {
    location.reload();
  }
});
window.addEventListener("pageshow", () => {
  for (const f of document.forms) {
    delete f.dataset.sent;
  }
  document.body.removeAttribute("aria-busy");
  tellReplacing();
});
window.addEventListener("beforeunload", (e) => {
  if (queue.length > 0) {
    e.preventDefault();
  }
});
