// Everything works without this file. With it the page stays while something is
// sent, so that nothing that a scanner types meanwhile is lost, and what could
// not be sent is sent again under the same key, which records it once.
"use strict";

(function () {
  document.documentElement.classList.add("scripted");
  const scanField = () => document.getElementById("text");
  const forText = (el) => el && el.matches("textarea, input:not([type=radio]):not([type=checkbox]):not([type=file]):not([type=hidden])");

  // What a scanner types, as far as it can't be a reason, a number or a lot:
  // an identifier of a symbology, a separator, an address or element strings
  // with a product or a date in them. The server looks for the same.
  const code = /\][A-Za-z]\d|\((?:01|02|10|11|17|21)\)[0-9A-Za-z]|https?:\/\/\S+\/01\/\d|01\d{14}|\+[A-Z][A-Z0-9]{6,}|\u001d/;
  const date = /(?<![0-9])1[17]\d{6}(?:10|21)\S/; // and a lot or serial

  // strayCode returns the code that was scanned into a field for something
  // else, and leaves in the field what stood there before.
  function strayCode(el) {
    const m = el === scanField() || el.matches(".scan-here") ? null : code.exec(el.value) || (el.name === "lot" ? null : date.exec(el.value));
    if (!m) {
      return "";
    }
    let at = m.index;
    if (m[0] === "\u001d") { // somewhere in the middle of it
      at = el.value.startsWith(el.defaultValue) ? el.defaultValue.length : 0;
    }
    // What a scanner typed ends where the caret is.
    const end = el.selectionStart > at ? el.selectionStart : el.value.length;
    const text = el.value.slice(at, end);
    el.value = el.value.slice(0, at) + el.value.slice(end) || el.defaultValue;
    return text;
  }

  // A keyboard scanner types wherever the focus is, also before a page has put
  // it anywhere. If that is no field for text, what it types belongs into the
  // field where scans are awaited. In a list to choose from, letters choose; a
  // code begins with something else.
  document.addEventListener("keydown", (e) => {
    const el = document.activeElement;
    const field = scanField() || document.querySelector(".scan-lines");
    const plain = e.key.length === 1 && e.key !== " " && !e.altKey && !e.metaKey && (!e.ctrlKey || e.key === "]");
    if (plain && field && !forText(el) && (!el || el.tagName !== "SELECT" || /[\]0-9(+]/.test(e.key))) {
      field.focus();
    }
  }, true);

  // A scanner ends a code with Enter or with Tab. Enter in a reason is no
  // touch on the button beside it.
  let swallow = false;
  document.addEventListener("keypress", (e) => {
    if (swallow && e.key === "Enter") {
      e.preventDefault();
    }
  });
  document.addEventListener("keydown", (e) => {
    const el = e.target;
    swallow = false;
    if ((e.key !== "Enter" && e.key !== "Tab") || e.shiftKey || !scanField() || !forText(el) || !el.form) {
      return;
    }
    if (el === scanField() || el.matches(".scan-here")) {
      if (e.key === "Tab" && el.value.trim() !== "") {
        e.preventDefault();
        el.form.requestSubmit();
      }
      return;
    }
    const text = strayCode(el);
    if (text) {
      swallow = true;
      take(text, "1", el);
    } else if (e.key === "Enter" && el.form.classList.contains("careful")) {
      swallow = true;
    }
    if (swallow) {
      e.preventDefault();
    }
  });

  // What is scanned into the number of pieces takes the place of the number.
  document.addEventListener("focusin", (e) => {
    if (e.target.matches(".pieces input")) {
      e.target.select();
    }
  });

  // The separator of GS1 codes, U+001D, comes as Ctrl+] from a keyboard. A
  // browser drops it, and Ctrl+J, a line feed, opens the list of downloads.
  document.addEventListener("keydown", (e) => {
    const el = document.activeElement;
    if (!e.ctrlKey || e.altKey || e.metaKey || !el || !el.matches("input, .scan-lines")) {
      return;
    }
    if (e.key === "]" || e.code === "BracketRight") {
      e.preventDefault();
      if (forText(el)) {
        el.setRangeText("\u001d", el.selectionStart, el.selectionEnd, "end");
      }
    } else if (e.key === "j" || e.key === "J") {
      e.preventDefault();
      if (el.matches(".scan-lines")) {
        el.setRangeText("\n", el.selectionStart, el.selectionEnd, "end");
      }
    }
  });

  // Where several scans are awaited, Tab after a code ends its line; on an empty
  // line it leads on, as everywhere.
  document.addEventListener("keydown", (e) => {
    const el = e.target;
    if (e.key === "Tab" && !e.shiftKey && el.matches(".scan-lines") && /[^\n]$/.test(el.value.slice(0, el.selectionStart))) {
      e.preventDefault();
      el.setRangeText("\n", el.selectionStart, el.selectionEnd, "end");
    }
  });

  // While the panel of a use is open, what is scanned takes over from it. That
  // is said where scans are awaited. The style sheet shows it in the moment in
  // which the panel opens: nothing moves later, under a finger.
  const replacing = () => scanField() && document.querySelector(".use > details[open] form.replace");
  function tellReplacing() {
    const form = replacing();
    const el = document.getElementById("replacing");
    if (el) {
      el.querySelector("b").textContent = form ? form.dataset.lot : "";
    }
  }
  document.addEventListener("toggle", tellReplacing, true);
  document.addEventListener("click", (e) => {
    const link = e.target.closest("main a[href]");
    if (link && scanField() && link.pathname === location.pathname && !e.ctrlKey && !e.metaKey && !e.shiftKey) {
      // It leads to this treatment: a question is dropped, or another asked.
      e.preventDefault();
      queue.push({ what: link.textContent.trim(), to: link.href, get: true });
      scanField().focus();
      sendAll();
    }
    if (e.target.closest("#replacing button")) {
      document.querySelectorAll(".use > details[open]").forEach((d) => { d.open = false; });
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

  // What is not answered yet, the oldest first.
  const queue = [];
  let sending = false;

  function freshKey() {
    const b = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(b, (n) => n.toString(16).padStart(2, "0")).join("");
  }

  // take puts a scan into the queue, with what is said of a replacement. The
  // panel that it was scanned into is done with then.
  function take(text, pieces, field) {
    const form = replacing();
    const scan = { text, pieces, key: freshKey(), what: text.replaceAll("\u001d", "␝"), extra: {}, from: panel(form || field) };
    if (form) {
      for (const name of ["replaces", "cause", "cause_typed", "at"]) {
        scan.extra[name] = new FormData(form).get(name) || "";
      }
    }
    queue.push(scan);
    sendAll();
  }

  // body is what the form says now, with a scan's own text, pieces and key.
  // It is made when the scan's turn comes: the answer to the one before it may
  // have asked for this one. It then stays the same however often it is sent.
  function body(form, scan) {
    const b = new URLSearchParams(new FormData(form));
    for (const [name, value] of Object.entries(scan.extra)) {
      b.set(name, value);
    }
    b.set("text", scan.text);
    b.set("quantity", scan.pieces);
    b.set("key", scan.key);
    return b;
  }

  // tellUnsent says what waits, and why; nothing if nothing does.
  function tellUnsent(why) {
    let el = document.getElementById("unsent");
    if (!el && queue.length > 0) { // another page came in between
      el = document.createElement("p");
      el.id = "unsent";
      el.className = "unsent";
      el.setAttribute("role", "alert");
      document.querySelector("main").prepend(el);
    }
    if (el) {
      el.hidden = queue.length === 0;
      el.textContent = el.hidden ? "" : why + " " + queue.map((s) => s.what).join("  ");
    }
  }

  async function sendAll() {
    if (sending) {
      return;
    }
    sending = true;
    while (queue.length > 0) {
      const form = document.querySelector("form.scan");
      const job = queue[0];
      if (!form && !job.body && !job.get) {
        tellUnsent("Not recorded, scan it again:");
        break;
      }
      // form.action would be the field of that name.
      job.to = job.to || form.getAttribute("action");
      job.body = job.body || (job.get ? null : body(form, job));
      let res, html;
      try {
        res = await fetch(job.to, job.get ? {} : { method: "POST", body: job.body });
        html = await res.text();
      } catch {
        tellUnsent("No connection. Not confirmed yet, sent again by itself:");
        setTimeout(() => { sending = false; sendAll(); }, 1500);
        return;
      }
      job.tries = (job.tries || 0) + 1;
      if (res.status === 503 && job.tries < 5) {
        tellUnsent("The service can't take it at this moment. Not confirmed yet, sent again by itself:");
        setTimeout(() => { sending = false; sendAll(); }, 1500);
        return;
      }
      if (new URL(res.url).pathname === "/sign-in") {
        // The session has ended. Whoever signs in next may be somebody else, so
        // nothing is sent later in their name.
        const lost = queue.length;
        queue.length = 0;
        location.assign("/sign-in?" + new URLSearchParams({ lost, next: location.pathname }));
        return;
      }
      queue.shift();
      show(html, res.url, job.from);
    }
    sending = false;
  }

  // A form is known again in another answer by what it is about, and a panel by
  // its first form.
  const about = (form) => form.matches(".scan") ? "scan" : Array.from(form.elements, (el) => el.type === "hidden" && el.name !== "key" ? el.name + "=" + el.value : "").join("&");
  function panel(el) {
    const form = el && ((el.closest("details") || el).querySelector("form") || el.closest("form"));
    return form ? about(form) : "";
  }
  const forms = () => Array.from(document.querySelectorAll("main form"));

  // begun lists what was opened, chosen and typed in the page and not sent, but
  // for what is in a panel that is done with.
  function begun(done) {
    const fields = forms().filter((form) => form.matches(".scan") || panel(form) !== done).flatMap((form) => Array.from(form.elements, (el) => ({
      form: about(form), name: el.name, value: el.value, choice: el.matches("[type=radio], [type=checkbox]"), checked: el.checked,
      focus: el === document.activeElement && forText(el), caret: forText(el) && el.selectionStart,
      changed: el.matches("[type=radio], [type=checkbox]") ? el.checked !== el.defaultChecked : forText(el) ? el.value !== el.defaultValue : el.tagName === "SELECT" && el.value !== "",
    })));
    const open = Array.from(document.querySelectorAll("main details[open]"), panel).filter((p) => p !== "" && p !== done);
    return { fields: fields.filter((f) => f.name && (f.changed || f.focus)), open };
  }

  // goOn puts it back into another answer, where that has the same forms.
  function goOn({ fields, open }) {
    document.querySelectorAll("main details").forEach((d) => { d.open = d.open || (d.querySelector("form") && open.includes(panel(d))); });
    for (const f of fields) {
      const form = forms().find((form) => about(form) === f.form);
      const el = form && Array.from(form.elements).find((el) => el.name === f.name && (!f.choice || el.value === f.value));
      if (!el) {
        continue;
      }
      if (f.choice) {
        el.checked = f.checked;
      } else {
        el.value = f.value;
      }
      if (f.focus) {
        el.focus();
        if (f.caret !== null) { // a number has no caret
          el.setSelectionRange(f.caret, f.caret);
        }
      }
    }
    tellReplacing();
  }

  // show puts an answer in the place of the page's content. What was begun
  // meanwhile stays: it may not be lost, and the next scan must mean what was
  // touched for it.
  function show(html, url, done) {
    const doc = new DOMParser().parseFromString(html, "text/html");
    const left = begun(done);
    document.querySelector("main").replaceWith(doc.querySelector("main"));
    document.title = doc.title;
    document.body.removeAttribute("aria-busy");
    history.replaceState(null, "", url);
    if (scanField()) {
      scanField().focus();
    }
    window.scrollTo(0, 0);
    goOn(left);
    const news = document.querySelector(".note.stop, .stopped.new, .ask, .told");
    document.getElementById("live").textContent = news ? news.textContent.replace(/\s+/g, " ") : "";
  }

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
    if (scanField() && to === document.querySelector("form.scan").getAttribute("action")) {
      // A scan that comes meanwhile waits for the answer.
      e.preventDefault();
      const data = new FormData(form, e.submitter);
      const what = (e.submitter || form).textContent.trim();
      queue.push({ what, to, from: panel(form), body: form.enctype === "multipart/form-data" ? data : new URLSearchParams(data) });
      scanField().focus();
      sendAll();
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
})();
