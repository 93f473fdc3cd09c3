"use strict";
{
  // One form of rows; each row is answered by one key. Keys count within the form alone, and never where text is typed.
  const form = document.querySelector("form[data-keys]");
  const rows = [...form.querySelectorAll("fieldset")];
  const status = form.querySelector("[data-status]");
  const fields = [...form.querySelectorAll("input:not([type=hidden])")];
  // What is not sent yet stays in this tab, whatever becomes of page, signal or session; what was sent needs it no more.
  const draft = form.dataset.draft;
  (form.dataset.sent ?? "").split(" ").forEach((name) => stored((store) => store.removeItem(name)));
  takeUp();
  const answers = new Map(rows.map((row) => [row, chosen(row)]));
  const done = [];
  let here = rows[0];
  let sent = false;

  function stored(act) {
    try {
      return act(sessionStorage);
    } catch {
      // A browser that stores nothing: the form then works as it does without a script.
      return null;
    }
  }

  function takeUp() {
    const kept = JSON.parse(stored((store) => store.getItem(draft)) ?? "null");
    if (!kept) return;
    for (const field of fields) {
      if (field.type === "radio") field.checked = kept[field.name] === field.value;
      else field.value = kept[field.name] ?? "";
    }
  }

  function keep() {
    const filled = fields.filter((field) => field.type !== "radio" || field.checked);
    stored((store) => store.setItem(draft, JSON.stringify(Object.fromEntries(filled.map((field) => [field.name, field.value])))));
  }

  function chosen(row) {
    return row.querySelector("input[type=radio]:checked");
  }

  function go(row) {
    (chosen(row) ?? row.querySelector("input[type=radio]")).focus({ preventScroll: true });
    row.scrollIntoView({ block: "nearest" });
  }

  function goOn(row) {
    const next = rows[rows.indexOf(row) + 1];
    if (next) go(next);
    else form.querySelector("button[type=submit]").focus();
  }

  function note(row) {
    done.push([row, answers.get(row)]);
    answers.set(row, chosen(row));
    status.textContent = "";
    keep();
  }

  function answer(row, radio) {
    radio.checked = true;
    note(row);
    if (radio.dataset.writes) form.elements[radio.dataset.writes].focus();
    else goOn(row);
  }

  function undo() {
    const last = done.pop();
    if (!last) return;
    const [row, before] = last;
    if (before) before.checked = true;
    else chosen(row).checked = false;
    answers.set(row, before);
    keep();
    go(row);
  }

  function send() {
    const open = rows.find((row) => !chosen(row) || !written(row));
    if (open) {
      status.textContent = form.dataset.missing;
      go(open);
    } else if (!sent) {
      sent = true;
      form.requestSubmit();
    }
  }

  function written(row) {
    const field = chosen(row).dataset.writes;
    return !field || form.elements[field].value.trim() !== "";
  }

  function follow(id) {
    document.getElementById(id)?.click();
  }

  const moves = { ArrowDown: 1, ArrowUp: -1 };
  const does = {
    u: undo,
    c: () => form.querySelector("[data-comment]")?.focus(),
    s: () => follow("skip"),
    b: () => follow("before"),
    "?": () => document.getElementById("keys").toggleAttribute("open"),
    Enter: send,
  };

  form.addEventListener("change", (event) => {
    if (event.target.type === "radio") note(event.target.closest("fieldset"));
  });

  form.addEventListener("input", (event) => {
    if (event.target.type === "text") keep();
  });

  form.addEventListener("focusin", (event) => {
    here = event.target.closest("fieldset") ?? here;
  });

  form.addEventListener("keydown", (event) => {
    const at = event.target;
    // A click beside the rows, as on the drawing, leaves the keys with the row that had them.
    const row = at === form ? here : at.closest("fieldset");
    if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (at.type === "text") {
      if (event.key !== "Enter" && event.key !== "Escape") return;
      event.preventDefault();
      const open = rows.find((each) => !chosen(each));
      if (row) goOn(row);
      else if (open) go(open);
      else form.querySelector("button[type=submit]").focus();
      return;
    }
    if (event.key === "Enter" && at.matches("a, summary")) return;
    const radio = row && [...row.querySelectorAll("[data-key]")].find((each) => each.dataset.key === event.key);
    const move = moves[event.key];
    if (radio) answer(row, radio);
    else if (move) go(rows[Math.min(Math.max((row ? rows.indexOf(row) : rows.length) + move, 0), rows.length - 1)]);
    else if (does[event.key]) does[event.key]();
    else return;
    event.preventDefault();
  });

  window.addEventListener("pageshow", () => {
    sent = false;
    const open = rows.find((row) => !chosen(row)) ?? rows[0];
    if (open) go(open);
    else form.querySelector("button[type=submit]").focus();
  });
}
