// Everything works without this file. It saves touches at the chair.
"use strict";

(function () {
  const field = document.getElementById("text");

  // A keyboard scanner types wherever the focus is. If it is nowhere, what it
  // types belongs into the scan field.
  const typing = (el) => el && (el.isContentEditable || /^(INPUT|SELECT|TEXTAREA)$/.test(el.tagName));
  if (field) {
    document.addEventListener("keydown", (e) => {
      if (!typing(document.activeElement) && e.key.length === 1 && !e.altKey && !e.metaKey && !(e.ctrlKey && e.key !== "]")) {
        field.focus();
      }
    }, true);
  }

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
  const picture = document.getElementById("picture");
  if (picture) {
    picture.addEventListener("change", () => {
      if (picture.files.length > 0) {
        const b = picture.form.querySelector("button");
        b.textContent = "Reading the picture …";
        picture.form.requestSubmit();
      }
    });
  }

  // One touch, one request. The server records once in any case.
  document.addEventListener("submit", (e) => {
    if (e.target.method !== "post") {
      return;
    }
    if (e.target.dataset.sent) {
      e.preventDefault();
      return;
    }
    e.target.dataset.sent = "1";
    document.body.setAttribute("aria-busy", "true");
  });
  window.addEventListener("pageshow", () => {
    for (const f of document.forms) {
      delete f.dataset.sent;
    }
    document.body.removeAttribute("aria-busy");
  });
})();
