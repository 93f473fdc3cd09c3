/** The tracing laid over its photograph before it counts: lines, what was found, how sure it is, which side is which. */

import { el } from "../dom.js";
import { digits, t } from "../messages.js";
import { placeName } from "../controls/field.js";
import { found, tenths } from "./found.js";
import { extent, frameOf } from "./geometry.js";
import { paintFound, paintTaps, sketch } from "./paint.js";
import { allTaps } from "./taps.js";

/**
 * @param {object} of
 * @param {object} of.tracing @param {ImageBitmap} of.photo @param {object} of.sent  the outline
 * @param {NonNullable<ReturnType<typeof import("./plane.js").planeOf>>} of.plane
 * @param {string} of.foot @param {() => void} of.onMirror
 */
export function checked({ tracing, photo, sent, plane, foot, onMirror }) {
  const size = (points) => Object.fromEntries(Object.entries(extent(points)).map(([name, mm]) => [name, mm.toFixed(0)]));
  const all = found(sent);
  return [
    el("h2", {}, t("trace.check")),
    el("p", {}, t("trace.check_note", { foot: t(`foot.${foot}`) })),
    overlay(tracing, photo, all, plane),
    el("h3", {}, t("trace.found")),
    el("ul", { class: "found" }, all.map(({ place, mm, u }) => el("li", { "data-place": place }, t("trace.found_at", { place: placeName(place), mm: digits(tenths(mm)), u: digits((2 * u).toFixed(1)) })))),
    el("div", { class: "card" }, sketch(sent)),
    el("p", { class: "sizes" }, t("trace.size.hoof", size(sent.hoof)), " ", t("trace.size.shoe", size(sent.shoe)), " ", t("trace.size.holes", { count: tracing.holes.length })),
    el("p", { class: "note", id: "trace-sure" }, t(plane.level ? "trace.sure.card" : "trace.sure.rule", { u: digits((2 * sent.made.u).toFixed(1)), share: digits(((200 * sent.scale.u) / sent.scale.mm).toFixed(1)) })),
    sent.hidden ? el("p", { class: "note" }, t("trace.hidden_note")) : "",
    el("button", { type: "button", class: "wide", id: "trace-mirror", "aria-pressed": String(tracing.mirrored), on: { click: onMirror } }, t("trace.mirrored")),
  ];
}

/** The photograph about the foot, with everything drawn over it. */
function overlay(tracing, photo, all, plane) {
  const taps = [...tracing.heels, ...tracing.hoof, ...tracing.shoe];
  const [xs, ys] = [taps.map(([x]) => x), taps.map(([, y]) => y)];
  const [left, top, right, bottom] = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  const margin = 0.14 * Math.max(right - left, bottom - top);
  const scale = 640 / (right - left + 2 * margin);
  const canvas = el("canvas", { class: "overlay", id: "trace-overlay", width: 640, height: Math.round((bottom - top + 2 * margin) * scale), role: "img", "aria-label": t("trace.overlay") });
  const at = ([x, y]) => [(x - left + margin) * scale, (y - top + margin) * scale];
  const context = canvas.getContext("2d");
  context.drawImage(photo, (margin - left) * scale, (margin - top) * scale, photo.width * scale, photo.height * scale);
  paintTaps(context, at, tracing, "");
  paintFound(context, at, all, frameOf(allTaps(tracing), plane).back);
  return canvas;
}
