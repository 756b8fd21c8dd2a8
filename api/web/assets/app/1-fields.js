// Everything works without this script. With it the page stays while something
// is sent, so that nothing that a scanner types meanwhile is lost, and what could
// not be sent is sent again under the same key, which records it once.

// Where the keys of a scanner go.
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
  const field = scanField() || document.querySelector(".scan-lines, .by-code input");
  const plain = e.key.length === 1 && e.key !== " " && !e.altKey && !e.metaKey && (!e.ctrlKey || e.key === "]");
  if (forText(el)) {
    return;
  }
  if (field && plain && (!el || el.tagName !== "SELECT" || /[\]0-9(+]/.test(e.key))) {
    field.focus();
  } else if (!field && inSetup(location.pathname)) {
    early(e, plain);
  }
}, true);

// What is typed where no field awaits it is kept: for the page that is on its
// way, or else to say that it was not recorded. It is no touch on a button.
const kept = { text: "", at: 0, lines: [] };
function early(e, plain) {
  const coming = queue.length > 0;
  if (plain) {
    const pause = e.timeStamp - kept.at > 1000; // longer than between a scanner's keys
    kept.text = (coming || !pause ? kept.text : "") + (e.ctrlKey ? "\u001d" : e.key);
    kept.at = e.timeStamp;
  } else if ((e.key === "Enter" || e.key === "Tab") && kept.text !== "") {
    if (coming || code.test(kept.text) || date.test(kept.text)) {
      e.preventDefault();
      kept.lines.push(kept.text);
      giveKept();
    }
    kept.text = "";
  }
}

// giveKept hands it to the scan field, once there is one.
function giveKept() {
  if (scanField()) {
    kept.lines.splice(0).forEach((text) => take(text, "1"));
    scanField().value += kept.text;
    kept.text = "";
  } else if (queue.length === 0 && kept.lines.length > 0) {
    tell("Not recorded: no treatment takes scans here. Choose the treatment, then scan again:", kept.lines.splice(0).map(shown));
  }
}

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
  swallow = e.defaultPrevented;
  if (e.key === "Tab" && !e.shiftKey && el.matches(".asking input") && code.test(el.value)) {
    e.preventDefault(); // a scanner that ends with Tab
    el.form.requestSubmit();
    return;
  }
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
