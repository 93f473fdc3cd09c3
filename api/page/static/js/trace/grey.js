/** Grey values of a patch of the photograph, read as they are needed: the whole would be too much for a telephone. */

/** @returns {import("./snap.js").Grey} the patch about a point, `half` pixels to each side */
export function greyAt(photo, [x, y], half) {
  const [left, top] = [Math.floor(x - half), Math.floor(y - half)];
  const size = 2 * Math.ceil(half) + 1;
  const canvas = document.createElement("canvas");
  Object.assign(canvas, { width: size, height: size });
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(photo, -left, -top);
  const { data } = context.getImageData(0, 0, size, size);
  const grey = new Float32Array(size * size);
  // ITU-R BT.601
  for (let at = 0; at < grey.length; at += 1) grey[at] = 0.299 * data[4 * at] + 0.587 * data[4 * at + 1] + 0.114 * data[4 * at + 2];
  return { width: size, height: size, left, top, data: grey };
}
