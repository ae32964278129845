/**
 * Takes the firmware's log bytes out of its memory, as a debug probe would: the control block of the RTT convention
 * ("SEGGER RTT" in its first bytes, then the number of up and down channels, then 24 bytes per channel) is found by its symbol.
 * The bytes are whatever the firmware writes there (defmt frames, for instance); they are not decoded here.
 */
const MAGIC = 'SEGGER RTT';
const FIRST_CHANNEL = 24;
const LARGEST_BUFFER = 65536;

export class RttReader {
  /** @param {number | undefined} controlBlock address of `_SEGGER_RTT`, undefined when the image has none */
  constructor(controlBlock) {
    this.controlBlock = controlBlock;
    this.bytes = [];
  }

  /** Moves what is new in up channel 0 into `bytes` and tells the firmware that its buffer is free again. */
  poll(rp2040) {
    const { controlBlock } = this;
    if (controlBlock === undefined || !this.#isReady(rp2040)) return;
    const channel = controlBlock + FIRST_CHANNEL;
    const [buffer, size, write, start] = [4, 8, 12, 16].map((field) => rp2040.readUint32(channel + field));
    if (write === start || size === 0 || size > LARGEST_BUFFER || write >= size || start >= size) return;
    for (let read = start; read !== write; read = (read + 1) % size) this.bytes.push(rp2040.readUint8(buffer + read));
    rp2040.writeUint32(channel + 16, write);
  }

  /**
   * Memory survives a soft reset, the meaning of the control block does not: it counts again once the start-up code has
   * written it afresh.
   */
  forget(rp2040) {
    if (this.controlBlock !== undefined) rp2040.writeUint8(this.controlBlock, 0);
  }

  /** @returns {string} all bytes since the last call, as hex */
  take() {
    return Buffer.from(this.bytes.splice(0)).toString('hex');
  }

  #isReady(rp2040) {
    if (rp2040.readUint8(this.controlBlock) !== MAGIC.charCodeAt(0)) return false;
    return [...MAGIC].every((letter, i) => rp2040.readUint8(this.controlBlock + i) === letter.charCodeAt(0));
  }
}
