/**
 * Tracing a foot from a photograph with a card or a rule in it.
 *
 * The photograph stays in this browser. What is sent with the fitting are the points in millimetres, and how sure
 * they are.
 */

import { figure, figureRange, haveFigures } from "../figures.js";
import { announce, button, el } from "../dom.js";
import { digits, t } from "../messages.js";
import { number } from "../controls/number.js";
import { faults } from "../controls/field.js";
import { answer, save } from "../sheets.js";
import { plainBar } from "../views/bar.js";
import { board } from "./board.js";
import { checked } from "./check.js";
import { outlineOf } from "./geometry.js";
import { greyAt } from "./grey.js";
import { paintTaps, sketch } from "./paint.js";
import { forgetPhoto, keepPhoto, keptPhoto } from "./photos.js";
import { otherCard, SCALE_TAPS, sidesOf, tapU } from "./plane.js";
import { snapped, wayAt } from "./snap.js";
import { allTaps, bounds, listOf, PARTS, planeOfTaps, ready, remember, takeBack, tapsOf, tracingOf, turnHidden } from "./taps.js";

/** Parts whose points lie on an edge. */
const EDGES = ["hoof", "shoe"];
let photo = null;
/** The sheet that it was taken for. */
let photoOf = null;
/** The sheet whose photograph was looked for in this browser. */
let soughtFor = null;

/** @param {import("../sheets.js").Sheet} sheet @param {object} page @param {(leave: () => void) => void} onLeave */
export function traceView(sheet, page, onLeave) {
  if (!sheet.answers.foot) return needsFoot(page);
  if (!haveFigures()) return [plainBar(page, t("step.trace"), ["foot", "nav.foot"]), el("main", {}, el("p", {}, t("trace.no_figures")))];
  const tracing = tracingOf(sheet);
  if (photoOf !== sheet.id) photo = null;
  const body = el("main", { class: "trace" });
  const nav = el("nav", { class: "thumb", "aria-label": t("nav.steps") });

  if (photo === null) {
    chooseFirst();
    resume();
  } else if (tracing.part === "check") check();
  else work();
  return [plainBar(page, t("step.trace"), ["foot", "nav.foot"]), body, nav];

  /** Keep what was tapped; where there is no room it stays in this window. */
  function keep() {
    sheet.tracing = tracing;
    if (save(sheet)) return;
    sheet.tracing = tracing;
    page.warnFull();
  }

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
      button(t("trace.print_title"), () => page.go("card"), { class: "wide", id: "to-card" }),
      begun() ? el("p", { class: "note" }, t("trace.same_photo")) : "",
      ...(sheet.answers.outline ? [kept()] : []),
    );
    nav.replaceChildren(back(() => history.back()));
  }

  function begun() {
    return PARTS.some((part) => tapsOf(tracing, part).length);
  }

  /** After a reload: the photograph that was traced, where this browser still has it. */
  async function resume() {
    if (soughtFor === sheet.id || !tracing.photo) return;
    soughtFor = sheet.id;
    const file = await keptPhoto(sheet.id);
    if (file && photo === null && location.hash === "#trace") await take(file);
  }

  function startAnew() {
    const { mirrored, by, length } = tracing;
    sheet.tracing = { mirrored, by, length };
    save(sheet);
    page.redraw();
  }

  function kept() {
    const away = () => {
      delete sheet.tracing;
      forgetPhoto();
      answer(sheet, "outline", undefined);
      page.redraw();
    };
    return el("section", {}, el("h2", {}, t("trace.kept")), el("div", { class: "card" }, sketch(sheet.answers.outline.sent)), el("button", { type: "button", class: "wide", id: "trace-away", on: { click: away } }, t("trace.away")));
  }

  async function take(file) {
    let opened;
    try {
      opened = await createImageBitmap(file);
    } catch {
      fault(t("trace.no_photo"));
      return;
    }
    const size = [opened.width, opened.height];
    if (begun() && tracing.photo && String(tracing.photo) !== String(size)) {
      fault(t("trace.other_photo"), button(t("trace.anew"), startAnew, { class: "wide", id: "trace-anew" }));
      return;
    }
    photo?.close?.();
    [photo, photoOf, tracing.photo] = [opened, sheet.id, size];
    keep();
    keepPhoto(sheet.id, file);
    page.redraw();
  }

  function fault(text, action = "") {
    announce(text);
    body.querySelector(":scope > .fault")?.remove();
    body.prepend(el("div", { class: "fault", role: "alert" }, el("p", {}, text), action));
  }

  function work() {
    const canvas = el("canvas", { class: "board", tabindex: "0", role: "application", "aria-label": t("trace.board"), "aria-describedby": "trace-say" });
    const counted = el("output", { class: "counted", id: "trace-count" });
    const onward = el("button", { type: "button", class: "onward", id: "onward", on: { click: () => goTo(PARTS[PARTS.indexOf(tracing.part) + 1] ?? "check") } }, t("step.next"));
    const moved = new Map();
    const hands = board(canvas, photo, {
      active: () => ({ points: tapsOf(tracing), most: bounds(tracing).most }),
      paint: (context, at) => paintTaps(context, at, tracing, listOf(tracing), moved),
      onSet: (point, scale, at) => {
        remember(tracing);
        const taps = tapsOf(tracing);
        const [x, y] = toEdge(point, scale, at);
        const tap = [x, y, Math.round(100 * tapU(scale)) / 100];
        if (taps[at]?.[3]) tap.push(1);
        taps[at] = tap;
        if (x !== point[0] || y !== point[1]) moved.set(String([x, y]), [point[0], point[1]]);
        changed();
      },
      onFull: () => announce(t("trace.enough")),
      onOutside: () => {
        counted.textContent = t("trace.outside");
        announce(t("trace.outside"));
      },
      onUndo: () => {
        takeBack(tracing);
        changed();
      },
    });
    const tool = (id, sign, act) => el("button", { type: "button", id: `trace-${id}`, class: "tool", "aria-label": t(`trace.${id}`), on: { click: act } }, sign);
    const hide = el("button", { type: "button", id: "trace-hide", class: "tool broad", on: { click: () => { turnHidden(tracing); changed(); hands.draw(); } } }, t("trace.hide"));
    const snap = el("button", { type: "button", id: "trace-snap", class: "tool broad", on: { click: () => { tracing.snap = !tracing.snap; changed(); } } }, t("trace.snap"));

    function changed() {
      keep();
      count();
    }

    function count() {
      const taps = tapsOf(tracing);
      const { fewest, most } = bounds(tracing);
      const plane = planeOfTaps(tracing);
      const have = taps.length;
      const last = taps.at(-1);
      const parts = [t("trace.count", { have, of: most === fewest ? most : t("trace.or_more", { fewest }) })];
      if (tracing.part === "scale" && tracing.by !== "rule" && have === most && !plane) parts.push(t("trace.no_card"));
      else if (scale && otherCard(tracing.by, taps)) parts.push(t("trace.other_card", { other: named(otherCard(tracing.by, taps)) }));
      else if (last && plane) parts.push(t("trace.tap_sure", { u: digits((2 * last[2] * plane.perPixel(last)).toFixed(1)) }));
      if (last && moved.has(String(last.slice(0, 2)))) parts.push(t("trace.snapped"));
      if (last?.[3]) parts.push(t("trace.hiding"));
      counted.textContent = parts.join(" · ");
      onward.disabled = !ready(tracing);
      hide.disabled = !last;
      hide.setAttribute("aria-pressed", String(Boolean(last?.[3])));
      snap.setAttribute("aria-pressed", String(tracing.snap));
    }

    const edges = EDGES.includes(tracing.part);
    const scale = tracing.part === "scale";
    body.replaceChildren(
      el("ol", { class: "parts", "aria-label": t("trace.parts") }, PARTS.map((part) => el("li", { "aria-current": part === tracing.part ? "step" : null, "data-part": part }, t(`trace.part.${part}`)))),
      scale ? scaleKinds() : "",
      el("p", { class: "how", id: "trace-say" }, t(`trace.say.${scale ? tracing.by : tracing.part}`)),
      canvas,
      el("div", { class: "tools" },
        tool("out", "−", hands.zoomOut),
        tool("in", "+", hands.zoomIn),
        tool("fit", "⤢", hands.fit),
        tool("undo", "↶", hands.undo),
        el("button", { type: "button", class: "tool broad", id: "trace-set", on: { click: hands.setAtCross } }, t("trace.set")),
        edges ? [snap, hide] : [],
      ),
      counted,
      ...(scale && tracing.by === "rule" ? [rulerLength(count)] : []),
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
    const resized = new ResizeObserver(() => hands.resize());
    resized.observe(canvas);
    onLeave(() => resized.disconnect());
  }

  function toEdge(point, scale, at) {
    if (!tracing.snap || !EDGES.includes(tracing.part)) return point;
    const taps = tapsOf(tracing);
    const [least, most] = figureRange("photograph_edge_reach");
    const reach = Math.min(most, Math.max(least, figure("photograph_edge_reach_screen") / scale));
    return snapped(greyAt(photo, point, 2 * most), point, wayAt(point, taps[at - 1], taps[at + 1]), reach) ?? point;
  }

  function scaleKinds() {
    const choose = (by) => {
      tracing.by = by;
      keep();
      page.redraw();
    };
    return el("div", { class: "words", role: "group", "aria-label": t("trace.by") }, Object.keys(SCALE_TAPS).map((by) => el("button", { type: "button", class: "word", id: `trace-by-${by}`, "aria-pressed": String(tracing.by === by), on: { click: () => choose(by) } }, named(by))));
  }

  /** What gives the scale, with its sides. */
  function named(by) {
    return t(`trace.by.${by}`, Object.fromEntries(["long", "short"].map((name, at) => [name, digits(sidesOf(by)?.[at] ?? "")])));
  }

  function rulerLength(onChange) {
    return number({
      sheet: { answers: { get length() { return tracing.length; } } },
      at: "length",
      label: t("trace.length"),
      question: { step: 10, start: 100 },
      onChange: (value) => {
        tracing.length = value;
        keep();
        onChange();
      },
    });
  }

  function goTo(part) {
    tracing.part = part;
    keep();
    page.go("trace");
  }

  function check() {
    const plane = planeOfTaps(tracing);
    // What was kept of an older page may lack something.
    const lacking = PARTS.find((part) => !ready(tracing, part));
    if (lacking) {
      tracing.part = lacking;
      work();
      return;
    }
    const sent = outlineOf(allTaps(tracing), plane, sheet.answers.foot);
    const use = () => {
      answer(sheet, "outline", { sent });
      photo.close?.();
      photo = null;
      forgetPhoto();
      delete sheet.tracing;
      save(sheet);
      page.go("foot");
    };
    const onMirror = () => {
      tracing.mirrored = !tracing.mirrored;
      keep();
      page.redraw();
    };
    body.replaceChildren(...checked({ tracing, photo, sent, plane, foot: sheet.answers.foot, onMirror }));
    nav.replaceChildren(back(() => goTo("holes")), el("button", { type: "button", class: "onward", id: "trace-use", on: { click: use } }, t("trace.use")));
  }
}

function needsFoot(page) {
  return [plainBar(page, t("step.trace"), ["foot", "nav.foot"]), el("main", {}, el("p", {}, t("trace.foot_first")), el("button", { type: "button", class: "wide", on: { click: () => page.go("start") } }, t("nav.feet")))];
}
