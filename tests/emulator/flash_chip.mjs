/**
 * The serial NOR flash of the board. Erasing a sector sets all its bits, programming only clears bits, both take time, and both
 * can be cut short by a power failure.
 *
 * What a cut leaves behind is **our assumption, on purpose harsher than any data sheet says, and not measured on a part**: each
 * cut draws one of three shapes from the seeded generator, over bytes that erasing or programming was to change.
 * - `front`: done up to some byte, that byte torn, the rest untouched;
 * - `back`: the same, from the end;
 * - `scattered`: any byte may be done, untouched or anything between (in an erase anything at all, because parts first program
 *   the sector to zero).
 * Not modelled: bits that read now one way and now the other, wear, disturbance of neighbours.
 */
export const SECTOR_BYTES = 4096;
export const PAGE_BYTES = 256;
const MEMORY_MAPPED_BYTES = 16 * 1024 * 1024;
const SHAPES = ['front', 'back', 'scattered'];

/** Busy times assumed, in nanoseconds: what data sheets of common 2 MiB parts call typical. */
export const TYPICAL_TIMES = { sectorEraseNs: 45e6, pageProgramNs: 0.4e6 };

export class FlashChip {
  /**
   * @param {object} options
   * @param {() => number} options.random seeded, in [0, 1); decides what cuts leave behind
   * @param {number} [options.sizeBytes]
   * @param {string} [options.uniqueId] 16 hex digits, what command 4B answers
   * @param {string} [options.jedecId] 6 hex digits, what command 9F answers
   * @param {{sectorEraseNs: number, pageProgramNs: number}} [options.times]
   */
  constructor({ random, sizeBytes = 2 * 1024 * 1024, uniqueId = 'e6605481db000001', jedecId = 'ef4015', times = TYPICAL_TIMES }) {
    this.random = random;
    this.sizeBytes = sizeBytes;
    this.uniqueId = [...Buffer.from(uniqueId, 'hex')];
    this.jedecId = [...Buffer.from(jedecId, 'hex')];
    this.times = { ...times };
    this.memory = new Uint8Array(MEMORY_MAPPED_BYTES).fill(0xff);
    this.sectorErases = new Uint32Array(sizeBytes / SECTOR_BYTES);
    this.counts = { erases: 0, programs: 0, busy_ns: 0, cut_erases: 0, cut_programs: 0 };
  }

  /**
   * Erases sectors. `busy(ns)` lets time pass and says how far it got: `done` is 1, or the share reached when the power failed;
   * `stops` says that whoever asked is gone (a reset), so that the operation in the chip ends but no other one begins.
   *
   * @param {number} offset from the start of flash, at a sector
   * @param {number} length whole sectors
   * @param {(ns: number) => {done: number, stops: boolean}} busy
   * @throws {Error} off the chip or not at a sector
   */
  erase(offset, length, busy) {
    this.#check(offset, length, SECTOR_BYTES);
    for (let at = offset; at < offset + length; at += SECTOR_BYTES) {
      const { done, stops } = this.#wait(busy, this.times.sectorEraseNs);
      this.counts.erases++;
      this.sectorErases[at / SECTOR_BYTES]++;
      const sector = this.memory.subarray(at, at + SECTOR_BYTES);
      if (done < 1) {
        this.counts.cut_erases++;
        this.#leaveTornErase(sector, done);
        return;
      }
      sector.fill(0xff);
      if (stops) return;
    }
  }

  /** Programs whole pages, see `erase`. Bits that are 0 already stay 0, whatever is programmed over them. */
  program(offset, bytes, busy) {
    this.#check(offset, bytes.length, PAGE_BYTES);
    for (let start = 0; start < bytes.length; start += PAGE_BYTES) {
      const { done, stops } = this.#wait(busy, this.times.pageProgramNs);
      this.counts.programs++;
      const page = this.memory.subarray(offset + start, offset + start + PAGE_BYTES);
      const wanted = bytes.subarray(start, start + PAGE_BYTES);
      if (done < 1) {
        this.counts.cut_programs++;
        this.#leaveTornProgram(page, wanted, done);
        return;
      }
      wanted.forEach((byte, i) => (page[i] &= byte));
      if (stops) return;
    }
  }

  /**
   * Puts an image into the chip as a programmer would: every sector that a segment touches is erased, then all is programmed.
   * Takes no time.
   *
   * @param {{offset: number, bytes: Uint8Array}[]} segments
   */
  install(segments) {
    for (const { offset, bytes } of segments) {
      if (offset + bytes.length > this.sizeBytes) throw new Error('the image is larger than the flash chip');
      const first = Math.floor(offset / SECTOR_BYTES) * SECTOR_BYTES;
      this.memory.fill(0xff, first, Math.ceil((offset + bytes.length) / SECTOR_BYTES) * SECTOR_BYTES);
    }
    for (const { offset, bytes } of segments) this.memory.set(bytes, offset);
  }

  /** The chip's whole contents; writing here is not programming. */
  get image() {
    return this.memory.subarray(0, this.sizeBytes);
  }

  /** @throws {Error} when the image is not exactly as large as the chip */
  setImage(bytes) {
    if (bytes.length !== this.sizeBytes) throw new Error(`a flash image has ${this.sizeBytes} bytes, not ${bytes.length}`);
    this.memory.set(bytes);
  }

  /** Number of the sector that has been erased most often. */
  get mostWorn() {
    return this.sectorErases.reduce((worst, erases, sector) => (erases > this.sectorErases[worst] ? sector : worst), 0);
  }

  /** What the chip shifts out after a serial command, the dummy bytes in front. Unknown commands find the line high. */
  answer([command]) {
    if (command === 0x9f) return this.jedecId;
    if (command === 0x4b) return [0xff, 0xff, 0xff, 0xff, ...this.uniqueId];
    return [];
  }

  #wait(busy, ns) {
    const outcome = busy(ns);
    this.counts.busy_ns += ns * outcome.done;
    return outcome;
  }

  #check(offset, length, unit) {
    const what = `flash operation at ${offset}, ${length} bytes`;
    if (offset % unit !== 0 || length % unit !== 0) throw new Error(`${what}: not in units of ${unit}`);
    if (offset + length > this.sizeBytes) throw new Error(`${what}: off the chip`);
  }

  #leaveTornErase(sector, done) {
    this.#tear(sector, done, {
      finished: () => 0xff,
      torn: (old) => old | this.#randomByte(),
      scattered: () => this.#randomByte(),
    });
  }

  #leaveTornProgram(page, wanted, done) {
    const torn = (old, i) => old & (wanted[i] | this.#randomByte());
    this.#tear(page, done, { finished: (old, i) => old & wanted[i], torn, scattered: torn });
  }

  #tear(bytes, done, { finished, torn, scattered }) {
    const shape = SHAPES[Math.floor(this.random() * SHAPES.length)];
    const reached = Math.floor(done * bytes.length);
    for (let n = 0; n < bytes.length; n++) {
      const i = shape === 'back' ? bytes.length - 1 - n : n;
      if (shape === 'scattered') {
        if (this.random() < done) bytes[i] = finished(bytes[i], i);
        else if (this.random() < 0.5) bytes[i] = scattered(bytes[i], i);
      } else if (n < reached) bytes[i] = finished(bytes[i], i);
      else if (n === reached) bytes[i] = torn(bytes[i], i);
    }
  }

  #randomByte() {
    return Math.floor(this.random() * 256);
  }
}
