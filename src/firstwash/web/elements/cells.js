/** Which cell every pixel of the sheet belongs to, read once from a picture, to repaint at once. */

/** @typedef {import("./api-types.js").Moved} Moved */

/** @type {Map<string, Promise<Cells>>} */
const known = new Map();

export class Cells {
  /**
   * @param {number} width
   * @param {number} height
   * @param {Uint16Array} numbers cell of each pixel
   */
  constructor(width, height, numbers) {
    this.width = width;
    this.height = height;
    this.numbers = numbers;
    /** @type {Map<number, number[]>} pixels of the cells asked for so far */
    this.pixels = new Map();
  }

  /**
   * @param {string} address
   * @returns {Promise<Cells>}
   */
  static of(address) {
    const found = known.get(address);
    if (found) return found;
    const made = Cells.read(address);
    known.clear(); // one plan at a time is enough
    known.set(address, made);
    return made;
  }

  /** @param {string} address */
  static async read(address) {
    const answer = await fetch(address);
    const picture = await createImageBitmap(await answer.blob(), { colorSpaceConversion: "none", premultiplyAlpha: "none" });
    const canvas = new OffscreenCanvas(picture.width, picture.height);
    const pen = canvas.getContext("2d", { willReadFrequently: true });
    if (!pen) throw new Error("this browser cannot draw");
    pen.drawImage(picture, 0, 0);
    const { data } = pen.getImageData(0, 0, picture.width, picture.height);
    const numbers = new Uint16Array(picture.width * picture.height);
    for (let i = 0; i < numbers.length; i++) {
      numbers[i] = /** @type {number} */ (data[4 * i]) + 256 * /** @type {number} */ (data[4 * i + 1]);
    }
    return new Cells(picture.width, picture.height, numbers);
  }

  /** @param {readonly number[]} cells */
  find(cells) {
    const missing = new Set(cells.filter((c) => !this.pixels.has(c)));
    if (!missing.size) return;
    for (const c of missing) this.pixels.set(c, []);
    for (let i = 0; i < this.numbers.length; i++) {
      const c = /** @type {number} */ (this.numbers[i]);
      if (missing.has(c)) this.pixels.get(c)?.push(i);
    }
  }

  /**
   * The cells of a wash in the colours they would have when `stage` layers are dry.
   * @param {HTMLCanvasElement} canvas
   * @param {Moved} moved
   * @param {number} stage
   */
  paint(canvas, moved, stage) {
    this.find(moved.cells);
    canvas.width = this.width;
    canvas.height = this.height;
    const pen = canvas.getContext("2d");
    if (!pen) return;
    const picture = pen.createImageData(this.width, this.height);
    moved.cells.forEach((cell, i) => {
      const colours = moved.colours[i] ?? [];
      const colour = colours[Math.min(stage, colours.length) - 1];
      if (!colour) return;
      const code = Number.parseInt(colour.slice(1), 16);
      for (const at of this.pixels.get(cell) ?? []) {
        picture.data[4 * at] = code >> 16;
        picture.data[4 * at + 1] = (code >> 8) & 255;
        picture.data[4 * at + 2] = code & 255;
        picture.data[4 * at + 3] = 255;
      }
    });
    pen.putImageData(picture, 0, 0);
  }
}
