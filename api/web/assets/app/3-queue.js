// What is sent, one after the other.

// What is not answered yet, the oldest first.
const queue = [];
let sending = false;

// Between the pages of setup the document stays, so that nothing that a scanner
// types while a page is on its way is lost.
const inSetup = (path) => /^\/setup(\/|$)/.test(path);
const shown = (text) => text.replaceAll("\u001d", "␝");
let address = location.pathname + location.search; // of the content that is shown

function freshKey() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(b, (n) => n.toString(16).padStart(2, "0")).join("");
}

// take puts a scan into the queue, with what is said of a replacement. The
// panel that it was scanned into is done with then.
function take(text, pieces, field) {
  const form = replacing();
  const scan = { text, pieces, key: freshKey(), what: shown(text), extra: {}, from: panel(form || field) };
  if (form) {
    for (const name of ["replaces", "cause", "cause_typed", "at"]) {
      scan.extra[name] = new FormData(form).get(name) || "";
    }
  }
  queue.push(scan);
  sendAll();
}

// go sends what leads to other content. If a link leads to another page, what
// comes now is for that one.
function go(job) {
  job.leaves = new URL(job.to, location.href).pathname !== location.pathname;
  if (scanField()) {
    if (job.leaves) {
      document.querySelector("form.scan").reset();
    }
    scanField().focus();
  }
  queue.push(job);
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

// tell says what became of texts; nothing if there are none.
function tell(why, texts) {
  let el = document.getElementById("unsent");
  if (!el && texts.length > 0) { // a page without a scan field
    el = document.createElement("p");
    el.id = "unsent";
    el.className = "unsent";
    el.setAttribute("role", "alert");
    document.querySelector("main").prepend(el);
  }
  if (el) {
    el.hidden = texts.length === 0;
    el.textContent = el.hidden ? "" : why + " " + texts.join("  ");
  }
}
const tellUnsent = (why) => tell(why, queue.map((job) => job.what));

async function sendAll() {
  if (sending) {
    return;
  }
  sending = true;
  while (queue.length > 0) {
    const form = document.querySelector("form.scan");
    const job = queue[0];
    if (!form && !job.body && !job.get) {
      // Another page may show a form next: the scan was not for that one.
      tell("Not recorded, scan it again:", queue.splice(0).map((job) => job.what));
      break;
    }
    // form.action would be the field of that name.
    job.to = job.to || form.getAttribute("action");
    job.body = job.body || (job.get ? null : body(form, job));
    let res, doc;
    const late = setTimeout(() => tellUnsent("On its way, not confirmed yet:"), 3000);
    try {
      const signal = AbortSignal.timeout(job.body instanceof FormData ? 120000 : 30000); // a picture is large
      res = await fetch(job.to, job.get ? { signal } : { method: "POST", body: job.body, signal });
      doc = new DOMParser().parseFromString(await res.text(), "text/html");
      if (res.status !== 503 && (!doc.querySelector("main") || !doc.querySelector("footer"))) {
        throw new Error("a network answered in the place of the service");
      }
    } catch {
      tellUnsent("No connection. Not confirmed yet, sent again by itself:");
      setTimeout(() => { sending = false; sendAll(); }, 1500);
      return;
    } finally {
      clearTimeout(late);
    }
    job.tries = (job.tries || 0) + 1;
    if (res.status === 503 && (job.tries < 5 || !doc.querySelector("main"))) {
      tellUnsent("The service can't take it at this moment. Not confirmed yet, sent again by itself:");
      setTimeout(() => { sending = false; sendAll(); }, 1500);
      return;
    }
    if (new URL(res.url).pathname === "/sign-in") {
      // The session has ended. Whoever signs in next may be somebody else, so
      // nothing is sent later in their name.
      const lost = queue.splice(0).filter((job) => !job.get).length;
      location.assign("/sign-in?" + new URLSearchParams({ lost, next: location.pathname }));
      return;
    }
    queue.shift();
    show(doc, res.url, job);
    if (!res.ok && !job.get && !scanField()) {
      tell("Not confirmed:", [job.what]);
    }
  }
  sending = false;
}

// show puts an answer in the place of the page's content and foot. What was begun
// meanwhile stays: it may not be lost, and the next scan must mean what was
// touched for it.
function show(doc, url, job) {
  const other = new URL(url).pathname !== location.pathname;
  const left = begun(job.from, other);
  for (const part of ["main", "footer"]) {
    document.querySelector(part).replaceWith(doc.querySelector(part));
  }
  document.title = doc.title;
  document.body.removeAttribute("aria-busy");
  if (other || (job.get && !scanField())) {
    history.pushState(null, "", url);
  } else {
    history.replaceState(null, "", url);
  }
  address = location.pathname + location.search;
  (scanField() || document.querySelector("main")).focus();
  window.scrollTo(0, 0);
  goOn(left);
  giveKept();
  const news = document.querySelector(".note.stop, .stopped.new, .ask, .told");
  document.getElementById("live").textContent = news ? news.textContent.replace(/\s+/g, " ") : "";
}
