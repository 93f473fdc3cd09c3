/** Building elements. Text always goes in as text, never as markup. */

const SVG = "http://www.w3.org/2000/svg";

/**
 * @param {Element} node
 * @param {Object<string, unknown>} attributes  `on`: listeners by event; true: attribute without value; null, false:
 *   left out.
 * @param {unknown[]} children  nodes, texts, lists of them; null and false are left out.
 */
function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "on") for (const [event, listener] of Object.entries(value)) node.addEventListener(event, listener);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) node.append(child);
  }
  return node;
}

/** An HTML element. */
export function el(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** An SVG element. */
export function svg(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** A button that does something here. */
export function button(text, onClick, attributes = {}) {
  return el("button", { type: "button", ...attributes, on: { click: onClick } }, text);
}

/** Say `text` to those who listen instead of looking. */
export function announce(text) {
  const live = document.getElementById("live");
  live.textContent = "";
  requestAnimationFrame(() => (live.textContent = text));
}

/** A random UUID, also where the page is not served securely. */
export function freshUuid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}
