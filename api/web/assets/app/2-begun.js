// What is opened, chosen and typed in a page, and not sent yet.

// While the panel of a use is open, what is scanned takes over from it. That
// is said where scans are awaited. The style sheet shows it in the moment in
// which the panel opens: nothing moves later, under a finger.
const replacing = () => scanField() && !queue.some((job) => job.leaves) && document.querySelector(".use details[open] form.replace");
function tellReplacing() {
  const form = replacing();
  const el = document.getElementById("replacing");
  if (el) {
    el.querySelector("b").textContent = form ? form.dataset.lot : "";
  }
}
document.addEventListener("toggle", tellReplacing, true);

// A form is known again in another answer by what it is about, and a panel by
// its first form.
const about = (form) => form.matches(".scan") ? "scan" : Array.from(form.elements, (el) => el.type === "hidden" && el.name !== "key" ? el.name + "=" + el.value : "").join("&");
function panel(el) {
  const form = el && ((el.closest("details") || el).querySelector("form") || el.closest("form"));
  return form ? about(form) : "";
}
const forms = () => Array.from(document.querySelectorAll("main form"));

// begun lists what was opened, chosen and typed in the page and not sent, but
// for what is in a panel that is done with. Where another page comes, it is what
// was typed into the scan field.
function begun(done, other) {
  const fields = forms().filter((form) => form.matches(".scan") || (!other && panel(form) !== done)).flatMap((form) => Array.from(form.elements, (el) => ({
    form: about(form), name: el.name, value: el.value, choice: el.matches("[type=radio], [type=checkbox]"), checked: el.checked,
    focus: el === document.activeElement && forText(el), caret: forText(el) && el.selectionStart,
    changed: el.matches("[type=radio], [type=checkbox]") ? el.checked !== el.defaultChecked : forText(el) ? el.value !== el.defaultValue : el.tagName === "SELECT" && el.value !== "",
  })));
  const open = Array.from(document.querySelectorAll("main details[open]"), panel).filter((p) => !other && p !== "" && p !== done);
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
