/** The photograph on which points are tapped: zoom, pan, drag, a glass over the finger, and all of it by keyboard. */

const TAP_PX = 8;
const GRAB_PX = 24;
const GLASS_PX = 56;
/** A finger held so long sets a point where it is lifted, and no longer moves the photograph. */
const HOLD_MS = 350;
/** A second tap on the very spot so soon is one finger that bounced. */
const BOUNCE_MS = 300;
const BOUNCE_PX = 3;
const STEP_PX = 4;

/**
 * @param {HTMLCanvasElement} canvas
 * @param {ImageBitmap|HTMLImageElement} photo
 * @param {object} of
 * @param {() => {points: [number, number][], most: number}} of.active  the points that may be moved now
 * @param {(context: CanvasRenderingContext2D, at: (point: [number, number]) => [number, number]) => void} of.paint
 * @param {(point: [number, number], scale: number, number: number) => void} of.onSet  a point is set, as that one of its part
 * @param {() => void} of.onFull  there are as many as there may be
 * @param {() => void} of.onOutside  beside the photograph there is nothing to set a point on
 * @param {() => void} of.onUndo
 */
export function board(canvas, photo, { active, paint, onSet, onFull, onOutside, onUndo }) {
  const context = canvas.getContext("2d");
  const fingers = new Map();
  let look = null;
  let held = null;
  let start = [0, 0];
  let moved = 0;
  let pinched = null;
  /** Where a finger is that is about to set a point. */
  let aimed = null;
  let holding = null;
  /** The point that is dragged, as it was. */
  let dragged = null;
  let last = { at: 0, spot: [0, 0] };

  const ratio = () => devicePixelRatio || 1;
  const box = () => canvas.getBoundingClientRect();
  const at = ([x, y]) => [x * look.scale + look.x, y * look.scale + look.y];
  const back = ([x, y]) => [(x - look.x) / look.scale, (y - look.y) / look.scale];
  const within = (event) => {
    const { left, top } = box();
    return [event.clientX - left, event.clientY - top];
  };

  function fit() {
    const { width, height } = box();
    canvas.width = Math.round(width * ratio());
    canvas.height = Math.round(height * ratio());
    look = whole(width, height);
    draw();
  }

  /** Another size of the canvas, as when a telephone is turned: what is looked at stays in the middle, as large as it was. */
  function resize() {
    const [before, high] = [canvas.width / ratio(), canvas.height / ratio()];
    const { width, height } = box();
    if (!look || String(Object.values(look)) === String(Object.values(whole(before, high)))) fit();
    else {
      Object.assign(canvas, { width: Math.round(width * ratio()), height: Math.round(height * ratio()) });
      look = { ...look, x: look.x + (width - before) / 2, y: look.y + (height - high) / 2 };
      draw();
    }
  }

  /** The look at all of the photograph. */
  function whole(width, height) {
    const scale = Math.min(width / photo.width, height / photo.height);
    return { scale, x: (width - photo.width * scale) / 2, y: (height - photo.height * scale) / 2 };
  }

  /** The point, or the one on the photograph's edge that is nearest. */
  function inside([x, y]) {
    return [Math.min(Math.max(x, 0), photo.width), Math.min(Math.max(y, 0), photo.height)];
  }

  function zoom(factor, [x, y] = [box().width / 2, box().height / 2]) {
    const scale = Math.min(40, Math.max(0.02, look.scale * factor));
    const by = scale / look.scale;
    look = { scale, x: x - (x - look.x) * by, y: y - (y - look.y) * by };
    draw();
  }

  function draw() {
    const { width, height } = box();
    context.setTransform(ratio(), 0, 0, ratio(), 0, 0);
    context.fillStyle = "#2b2b2b";
    context.fillRect(0, 0, width, height);
    context.drawImage(photo, look.x, look.y, photo.width * look.scale, photo.height * look.scale);
    paint(context, at);
    cross(width / 2, height / 2);
    const under = dragged ? active().points[held] : aimed;
    const shown = under && fingers.size === 1;
    if (shown) glass(under, width);
    Object.assign(canvas.dataset, { scale: look.scale, x: look.x, y: look.y, glass: shown ? "shown" : "none" });
  }

  function cross(x, y) {
    for (const [shade, thick] of [["#ffffff", 4], ["#0047b3", 2]]) {
      context.strokeStyle = shade;
      context.lineWidth = thick;
      context.beginPath();
      for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        context.moveTo(x + 4 * dx, y + 4 * dy);
        context.lineTo(x + 16 * dx, y + 16 * dy);
      }
      context.stroke();
    }
  }

  /** What lies under the finger, larger and beside it. */
  function glass(point, width) {
    const [x] = at(point);
    const [cx, cy] = [x < width / 2 ? width - GLASS_PX - 8 : GLASS_PX + 8, GLASS_PX + 8];
    const scale = look.scale * 2.5;
    context.save();
    context.beginPath();
    context.arc(cx, cy, GLASS_PX, 0, 2 * Math.PI);
    context.clip();
    context.drawImage(photo, cx - point[0] * scale, cy - point[1] * scale, photo.width * scale, photo.height * scale);
    context.restore();
    context.strokeStyle = "#ffffff";
    context.lineWidth = 3;
    context.beginPath();
    context.arc(cx, cy, GLASS_PX, 0, 2 * Math.PI);
    context.stroke();
    cross(cx, cy);
  }

  function add(point) {
    const { points, most } = active();
    if (points.length >= most) onFull();
    else if (String(inside(point)) !== String(point)) onOutside();
    else onSet(point, look.scale, points.length);
    draw();
  }

  function nearest(spot) {
    const far = active().points.map((point) => {
      const [x, y] = at(point);
      return Math.hypot(x - spot[0], y - spot[1]);
    });
    const least = Math.min(...far);
    return least <= GRAB_PX ? far.indexOf(least) : null;
  }

  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    const spot = within(event);
    fingers.set(event.pointerId, spot);
    moved = 0;
    start = spot;
    if (dragged) active().points[held] = dragged;
    dragged = null;
    const alone = fingers.size === 1;
    held = alone ? nearest(spot) : null;
    aimed = alone ? back(spot) : null;
    pinched = null;
    clearTimeout(holding);
    holding = setTimeout(() => (holding = null), HOLD_MS);
    draw();
  });

  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const spot = within(event);
    fingers.set(event.pointerId, spot);
    moved = Math.max(moved, Math.hypot(spot[0] - start[0], spot[1] - start[1]));
    if (fingers.size === 2) pinch();
    else if (aimed && held === null && holding === null) {
      aimed = back(spot);
      draw();
    } else if (moved > TAP_PX && held !== null) {
      if (!dragged) dragged = active().points[held];
      active().points[held] = [...inside(back(spot)), ...dragged.slice(2)];
      draw();
    } else if (moved > TAP_PX) {
      aimed = null;
      look.x += spot[0] - before[0];
      look.y += spot[1] - before[1];
      draw();
    }
  });

  function pinch() {
    const [[ax, ay], [bx, by]] = fingers.values();
    const wide = Math.hypot(ax - bx, ay - by);
    const centre = [(ax + bx) / 2, (ay + by) / 2];
    if (pinched) {
      look.x += centre[0] - pinched.centre[0];
      look.y += centre[1] - pinched.centre[1];
      zoom(wide / pinched.wide, centre);
    }
    pinched = { wide, centre };
  }

  function lift(event) {
    const spot = fingers.get(event.pointerId);
    if (!spot) return;
    const up = event.type === "pointerup" && fingers.size === 1 && !pinched;
    const long = aimed && held === null && holding === null;
    clearTimeout(holding);
    fingers.delete(event.pointerId);
    if (dragged) {
      const to = active().points[held];
      active().points[held] = dragged;
      onSet(to, look.scale, held);
    } else if (up && (moved <= TAP_PX || long) && !bounced(spot)) {
      // A tap beside a point sets another one: only a finger that moves takes the point along.
      add(back(spot));
    }
    if (!fingers.size) [held, pinched, aimed, dragged] = [null, null, null, null];
    draw();
  }

  function bounced(spot) {
    const soon = last.at > 0 && performance.now() - last.at < BOUNCE_MS && Math.hypot(spot[0] - last.spot[0], spot[1] - last.spot[1]) < BOUNCE_PX;
    last = { at: performance.now(), spot };
    return soon;
  }
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);

  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, within(event));
  }, { passive: false });

  const controls = {
    fit,
    resize,
    draw,
    zoomIn: () => zoom(1.5),
    zoomOut: () => zoom(1 / 1.5),
    setAtCross: () => add(back([box().width / 2, box().height / 2])),
    undo: () => {
      last.at = 0;
      onUndo();
      draw();
    },
  };

  canvas.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? STEP_PX * 8 : STEP_PX;
    const ways = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const keys = { Enter: controls.setAtCross, " ": controls.setAtCross, "+": controls.zoomIn, "-": controls.zoomOut, Backspace: controls.undo, Delete: controls.undo, Home: fit };
    if (event.key in ways) {
      look.x += ways[event.key][0] * step;
      look.y += ways[event.key][1] * step;
      draw();
    } else if (event.key in keys) keys[event.key]();
    else return;
    event.preventDefault();
  });

  return controls;
}
