// Everything works without this file. With it the page stays while a scan is
// sent, so that nothing that a scanner types meanwhile is lost, and a scan that
// could not be sent is sent again under the same key, which records it once.
"use strict";

(function () {
  const scanField = () => document.getElementById("text");
  const typing = (el) => el && /^(INPUT|SELECT|TEXTAREA)$/.test(el.tagName);

  // A keyboard scanner types wherever the focus is. If it is nowhere, what it
  // types belongs into the scan field.
  document.addEventListener("keydown", (e) => {
    const plain = e.key.length === 1 && !e.altKey && !e.metaKey && (!e.ctrlKey || e.key === "]");
    if (plain && scanField() && !typing(document.activeElement)) {
      scanField().focus();
    }
  }, true);

  // The separator of GS1 codes, U+001D, comes as Ctrl+] from a keyboard. A
  // browser drops it, and Ctrl+J, a line feed, opens the list of downloads.
  document.addEventListener("keydown", (e) => {
    const el = document.activeElement;
    if (!e.ctrlKey || e.altKey || e.metaKey || !el || el.tagName !== "INPUT") {
      return;
    }
    if (e.key === "]" || e.code === "BracketRight") {
      e.preventDefault();
      el.setRangeText("\u001d", el.selectionStart, el.selectionEnd, "end");
    } else if (e.key === "j" || e.key === "J") {
      e.preventDefault();
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

  // Scans that are not answered yet, the oldest first.
  const queue = [];
  let sending = false;

  function freshKey() {
    const b = crypto.getRandomValues(new Uint8Array(16));
    return Array.from(b, (n) => n.toString(16).padStart(2, "0")).join("");
  }

  // body is what the form says now, with a scan's own text, pieces and key.
  // It is made when the scan's turn comes: the answer to the one before it may
  // have asked for this one. It then stays the same however often it is sent.
  function body(form, scan) {
    const b = new URLSearchParams(new FormData(form));
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
      el.textContent = el.hidden ? "" : why + " " + queue.map((s) => s.text.replaceAll("\u001d", "␝")).join("  ");
    }
  }

  async function sendAll() {
    if (sending) {
      return;
    }
    sending = true;
    while (queue.length > 0) {
      const form = document.querySelector("form.scan");
      if (!form) {
        tellUnsent("Not recorded, scan it again:");
        break;
      }
      const scan = queue[0];
      scan.body = scan.body || body(form, scan);
      let res, html;
      try {
        // form.action would be the field of that name.
        res = await fetch(form.getAttribute("action"), { method: "POST", body: scan.body });
        html = await res.text();
      } catch {
        tellUnsent("No connection. Not confirmed yet, sent again by itself:");
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
      show(html, res.url);
    }
    sending = false;
  }

  // show puts an answer in the place of the page's content. What was typed into
  // the scan field meanwhile stays there.
  function show(html, url) {
    const doc = new DOMParser().parseFromString(html, "text/html");
    const typed = scanField() ? scanField().value : "";
    document.querySelector("main").replaceWith(doc.querySelector("main"));
    document.title = doc.title;
    history.replaceState(null, "", url);
    if (scanField()) {
      scanField().value = typed;
      scanField().focus();
    }
    window.scrollTo(0, 0);
    const news = document.querySelector(".note.stop, .stopped.new, .ask, .told");
    document.getElementById("live").textContent = news ? news.textContent.replace(/\s+/g, " ") : "";
  }

  document.addEventListener("submit", (e) => {
    const form = e.target;
    if (form.method !== "post") {
      return;
    }
    if (form.matches("form.scan")) {
      e.preventDefault();
      const field = scanField();
      if (field.value.trim() !== "") {
        queue.push({ text: field.value, pieces: form.elements.quantity.value, key: freshKey() });
        field.value = "";
        form.elements.quantity.value = "1";
        sendAll();
      }
      field.focus();
      return;
    }
    // One touch, one request. The server records once in any case.
    if (form.dataset.sent) {
      e.preventDefault();
      return;
    }
    form.dataset.sent = "1";
    document.body.setAttribute("aria-busy", "true");
  });
  window.addEventListener("pageshow", () => {
    for (const f of document.forms) {
      delete f.dataset.sent;
    }
    document.body.removeAttribute("aria-busy");
  });
  window.addEventListener("beforeunload", (e) => {
    if (queue.length > 0) {
      e.preventDefault();
    }
  });
})();
