"use strict";
{
  // One form of rows; each row is answered by one key. Keys count within the form alone, and never where text is typed.
  const form = document.querySelector("form[data-keys]");
  const rows = [...form.querySelectorAll("fieldset")];
  const status = form.querySelector("[data-status]");
  const answers = new Map(rows.map((row) => [row, chosen(row)]));
  const done = [];
  let sent = false;

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

  form.addEventListener("keydown", (event) => {
    const at = event.target;
    const row = at.closest("fieldset");
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
