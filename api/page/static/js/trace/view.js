/**
 * Tracing a foot from a photograph with a ruler in it.
 *
 * The photograph stays in this window: it is drawn on a canvas and is not kept. What is kept, and sent with the
 * fitting, are the points in millimetres.
 */

import { announce, el } from "../dom.js";
import { t } from "../messages.js";
import { number } from "../controls/number.js";
import { faults } from "../controls/field.js";
import { millimetres } from "../reading.js";
import { answer, save } from "../sheets.js";
import { plainBar } from "../views/bar.js";
import { board } from "./board.js";
import { extent, FEWEST, millimetresPerPixel, outlineOf } from "./geometry.js";
import { paintTaps, sketch } from "./paint.js";

const PARTS = ["scale", "heels", "hoof", "shoe", "holes"];
const MOST = { scale: 2, heels: 2, hoof: 200, shoe: 200, holes: 14 };
let photo = null;
/** The sheet that it was taken for. */
let photoOf = null;

/** @param {import("../sheets.js").Sheet} sheet @param {object} page @param {(leave: () => void) => void} onLeave */
export function traceView(sheet, page, onLeave) {
  if (!sheet.answers.foot) return needsFoot(page);
  sheet.tracing ??= { part: "scale", scale: [], heels: [], hoof: [], shoe: [], holes: [], mirrored: false };
  const { tracing } = sheet;
  if (photoOf !== sheet.id) photo = null;
  const body = el("main", { class: "trace" });
  const nav = el("nav", { class: "thumb", "aria-label": t("nav.steps") });

  if (photo === null) chooseFirst();
  else if (tracing.part === "check") check();
  else work();
  return [plainBar(page, t("step.trace"), ["foot", "nav.foot"]), body, nav];

  function back(where) {
    return el("button", { type: "button", class: "back", id: "back", on: { click: where } }, t("step.back"));
  }

  function chooseFirst() {
    const pick = (id, more) => {
      const input = el("input", { type: "file", id, accept: "image/*", class: "unseen-input", ...more, on: { change: () => input.files[0] && take(input.files[0]) } });
      return el("label", { class: "wide file", for: id }, t(`trace.${id}`), input);
    };
    body.replaceChildren(
      ...faults(sheet, "outline"),
      el("ol", { class: "plain-steps" }, [1, 2, 3, 4].map((each) => el("li", {}, t(`trace.how.${each}`)))),
      el("p", { class: "private" }, t("trace.private")),
      pick("photo-camera", { capture: "environment" }),
      pick("photo-file", {}),
      tracing.hoof.length ? el("p", { class: "note" }, t("trace.same_photo")) : "",
      ...(sheet.answers.outline ? [kept()] : []),
    );
    nav.replaceChildren(back(() => history.back()));
  }

  function kept() {
    const away = () => {
      delete sheet.tracing;
      answer(sheet, "outline", undefined);
      page.redraw();
    };
    return el("section", {}, el("h2", {}, t("trace.kept")), el("div", { class: "card" }, sketch(sheet.answers.outline.sent)), el("button", { type: "button", class: "wide", id: "trace-away", on: { click: away } }, t("trace.away")));
  }

  async function take(file) {
    try {
      photo?.close?.();
      photo = await createImageBitmap(file);
      photoOf = sheet.id;
    } catch {
      announce(t("trace.no_photo"));
      body.prepend(el("p", { class: "fault", role: "alert" }, t("trace.no_photo")));
      return;
    }
    page.redraw();
  }

  function perPixel() {
    const length = tracing.length && millimetres(tracing.length);
    return millimetresPerPixel(tracing.scale, length);
  }

  function work() {
    const canvas = el("canvas", { class: "board", tabindex: "0", role: "application", "aria-label": t("trace.board"), "aria-describedby": "trace-say" });
    const counted = el("output", { class: "counted", id: "trace-count" });
    const onward = el("button", { type: "button", class: "onward", id: "onward", on: { click: () => goTo(PARTS[PARTS.indexOf(tracing.part) + 1] ?? "check") } }, t("step.next"));
    const hands = board(canvas, photo, {
      active: () => ({ points: tracing[tracing.part], most: MOST[tracing.part] }),
      paint: (context, at) => paintTaps(context, at, tracing, tracing.part),
      onChange: () => {
        save(sheet);
        count();
      },
    });
    const tool = (id, sign, act) => el("button", { type: "button", id: `trace-${id}`, class: "tool", "aria-label": t(`trace.${id}`), on: { click: act } }, sign);

    function count() {
      const have = tracing[tracing.part].length;
      const ready = have >= FEWEST[tracing.part] && (tracing.part !== "scale" || perPixel() !== null);
      counted.textContent = t("trace.count", { have, of: MOST[tracing.part] === FEWEST[tracing.part] ? MOST[tracing.part] : t("trace.or_more", { fewest: FEWEST[tracing.part] }) });
      onward.disabled = !ready;
    }

    body.replaceChildren(
      el("ol", { class: "parts", "aria-label": t("trace.parts") }, PARTS.map((part) => el("li", { "aria-current": part === tracing.part ? "step" : null, "data-part": part }, t(`trace.part.${part}`)))),
      el("p", { class: "how", id: "trace-say" }, t(`trace.say.${tracing.part}`)),
      canvas,
      el("div", { class: "tools" },
        tool("out", "−", hands.zoomOut),
        tool("in", "+", hands.zoomIn),
        tool("fit", "⤢", hands.fit),
        tool("undo", "↶", hands.undo),
        el("button", { type: "button", class: "tool broad", id: "trace-set", on: { click: hands.setAtCross } }, t("trace.set")),
      ),
      counted,
      ...(tracing.part === "scale" ? [rulerLength(count)] : []),
    );
    nav.replaceChildren(back(() => {
      const before = PARTS[PARTS.indexOf(tracing.part) - 1];
      if (before) goTo(before);
      else {
        photo = null;
        page.redraw();
      }
    }), onward);
    count();
    const resized = new ResizeObserver(() => hands.fit());
    resized.observe(canvas);
    onLeave(() => resized.disconnect());
  }

  function rulerLength(onChange) {
    return number({
      sheet: { answers: { get length() { return tracing.length; } } },
      at: "length",
      label: t("trace.length"),
      question: { step: 10, start: 100 },
      onChange: (value) => {
        tracing.length = value;
        save(sheet);
        onChange();
      },
    });
  }

  function goTo(part) {
    tracing.part = part;
    save(sheet);
    page.go("trace");
  }

  function check() {
    const sent = outlineOf(tracing, perPixel(), sheet.answers.foot);
    const size = (points) => Object.fromEntries(Object.entries(extent(points)).map(([name, mm]) => [name, mm.toFixed(0)]));
    const use = () => {
      answer(sheet, "outline", { sent });
      photo.close?.();
      photo = null;
      delete sheet.tracing;
      save(sheet);
      page.go("foot");
    };
    const turn = () => {
      tracing.mirrored = !tracing.mirrored;
      save(sheet);
      page.redraw();
    };
    body.replaceChildren(
      el("h2", {}, t("trace.check")),
      el("p", {}, t("trace.check_note", { foot: t(`foot.${sheet.answers.foot}`) })),
      el("div", { class: "card" }, sketch(sent)),
      el("p", { class: "sizes" }, t("trace.size.hoof", size(sent.hoof)), " ", t("trace.size.shoe", size(sent.shoe)), " ", t("trace.size.holes", { count: tracing.holes.length })),
      el("button", { type: "button", class: "wide", id: "trace-mirror", "aria-pressed": String(tracing.mirrored), on: { click: turn } }, t("trace.mirrored")),
      el("p", { class: "note" }, t("trace.unsure")),
    );
    nav.replaceChildren(back(() => goTo("holes")), el("button", { type: "button", class: "onward", id: "trace-use", on: { click: use } }, t("trace.use")));
  }
}

function needsFoot(page) {
  return [plainBar(page, t("step.trace"), ["foot", "nav.foot"]), el("main", {}, el("p", {}, t("trace.foot_first")), el("button", { type: "button", class: "wide", on: { click: () => page.go("start") } }, t("nav.feet")))];
}
