import { Ds3231 } from './clock_chip.mjs';
import { readElf } from './elf.mjs';
import { FlashChip } from './flash_chip.mjs';
import { As5600, I2cWires } from './i2c_devices.mjs';
import { Machine } from './machine.mjs';
import { Needle } from './needle.mjs';
import { seededRandom } from './random.mjs';
import { RttReader } from './rtt.mjs';
import { Timeline } from './timeline.mjs';

/** How the board is wired; each number is a GPIO. The needle's line goes to all of its pins. `null` for a pin that is not there. */
export const WIRING = { needle: [15, 14], clothButton: 16, careButton: 17, lamp: 25, usbPower: 24, dialStrap: 22, bus: { data: 4, clock: 5 } };

/** The converter's channel for the dial's voltage: GPIO 26 (RP2040 datasheet 4.9.2). */
const DIAL_CHANNEL = 0;

const LAMP_EDGES_KEPT = 100_000;
const BUSY_SPANS_KEPT = 100_000;

/**
 * The whole logger: the microcontroller and what is around it. Flash, clock chip, wires and everything that a test has set going
 * outlive resets and power cuts; the machine does not.
 */
export class Board {
  #flashCuts = [];

  /**
   * @param {object} options
   * @param {string | ReturnType<typeof readElf>} options.elf path of the board image, or what was read from it
   * @param {number} [options.seed] of what torn flash operations leave, what memory holds after a power cut, and the firmware's random bits
   * @param {Partial<typeof WIRING>} [options.wiring]
   * @param {object} [options.flash] see `FlashChip`
   * @param {boolean} [options.usb] whether the cable is in
   * @param {string[]} [options.withoutPatches]
   */
  constructor({ elf, seed = 1, wiring = {}, flash = {}, usb = true, withoutPatches = [] }) {
    this.options = { withoutPatches };
    this.wiring = { ...WIRING, ...wiring };
    this.random = seededRandom(seed);
    this.timeline = new Timeline();
    this.flash = new FlashChip({ random: this.random, ...flash });
    this.knob = new As5600();
    this.clockChip = new Ds3231(() => this.timeline.nowNs);
    this.i2c = new I2cWires([this.knob, this.clockChip]);
    this.levels = new Map();
    this.dialSteps = 0;
    this.needle = new Needle(this.timeline, (level) => this.wiring.needle.forEach((pin) => this.setLevel(pin, level)));
    this.isUsbPlugged = usb;
    this.received = [];
    this.lampEdges = [];
    this.lampEdgesDropped = 0;
    this.busySpans = [];
    this.busySpansDropped = 0;
    this.resets = [];
    this.instructionsBefore = 0;
    this.lastCut = null;
    this.machine = null;
    this.#setIdleLevels();
    this.load(elf);
    this.#start({ cause: 'power', kept: null });
  }

  get nowNs() {
    return this.timeline.nowNs;
  }

  get instructions() {
    return this.instructionsBefore + (this.machine?.instructions ?? 0);
  }

  /** Puts an image into flash; the rest of flash stays. It runs from the next start on. */
  load(elf) {
    const { segments, symbols } = typeof elf === 'string' ? readElf(elf) : elf;
    this.flash.install(segments);
    this.rtt = new RttReader(symbols.get('_SEGGER_RTT'));
  }

  /**
   * Lets `ns` of the world's time pass, or less when `isDone` or a power cut comes first. A reset starts the machine again and
   * time goes on. While the board is off only time passes.
   */
  run(ns, isDone) {
    const endNs = this.nowNs + ns;
    while (this.nowNs < endNs) {
      if (this.machine === null) {
        this.timeline.passWhileOff(endNs - this.nowNs);
        return;
      }
      this.machine.run(this.machine.clock.nanos + (endNs - this.nowNs), isDone);
      if (this.machine.end === null) return;
      this.#afterEnd();
      if (this.machine === null || isDone?.()) return;
    }
  }

  /**
   * Plans a power cut, see `Machine.planCut`; `flashOperation` 1 is the next erase of a sector or program of a page, `erase` 1 the
   * next erase, whatever is programmed before.
   */
  planCut({ instructions, ns, flashOperation, erase, share = 0.5 }) {
    this.#running().planCut({ instructions, ns });
    if (flashOperation !== undefined) this.#flashCuts = [{ left: flashOperation, share, onlyErases: false }];
    if (erase !== undefined) this.#flashCuts = [{ left: erase, share, onlyErases: true }];
  }

  /** For the flash that is about to be busy: the share of the operation after which the power fails, or null. */
  nextFlashCut(isErase) {
    const [cut] = this.#flashCuts;
    if (!cut || (cut.onlyErases && !isErase) || --cut.left > 0) return null;
    this.#flashCuts = [];
    return cut.share;
  }

  /** Takes the power away (at once, if it is there) for `offNs` and gives it back. */
  powerCycle(offNs = 0) {
    if (this.machine !== null) {
      this.machine.end = { kind: 'power', where: 'by hand' };
      this.#afterEnd();
    }
    this.timeline.passWhileOff(offNs);
    this.#start({ cause: 'power', kept: null });
  }

  /** Pulls the plug and leaves it. */
  powerOff() {
    if (this.machine === null) return;
    this.machine.end = { kind: 'power', where: 'by hand' };
    this.#afterEnd();
  }

  /** Sets the level of a line from outside; it holds across resets and power cuts. */
  setLevel(pin, level) {
    this.levels.set(pin, level);
    this.machine?.rp2040.gpio[pin].setInputValue(level);
  }

  /** Sets the voltage at the dial's pin, in steps of 4096 to the whole supply; it holds across resets and power cuts. */
  setDial(steps) {
    this.dialSteps = steps & 0xfff;
    if (this.machine !== null) this.machine.rp2040.adc.channelValues[DIAL_CHANNEL] = this.dialSteps;
  }

  /** Presses a button (they are active low) and lets it go after `ms`. */
  press(pin, ms) {
    this.setLevel(pin, false);
    this.timeline.at(this.nowNs + ms * 1e6, () => this.setLevel(pin, true));
  }

  setUsbPlugged(isPlugged) {
    this.isUsbPlugged = isPlugged;
    if (this.wiring.usbPower !== null) this.setLevel(this.wiring.usbPower, isPlugged);
    if (isPlugged) this.machine?.usb.plug();
    else this.machine?.usb.unplug();
  }

  /** The computer at the other end of the cable. @throws {Error} without power */
  get usb() {
    return this.#running().usb;
  }

  /** Whether the lamp is driven high; a lamp without power is dark. */
  get isLampOn() {
    return this.machine !== null && this.machine.rp2040.gpio[this.wiring.lamp].value === 1;
  }

  #running() {
    if (this.machine === null) throw new Error('the board has no power');
    return this.machine;
  }

  #setIdleLevels() {
    const { needle, clothButton, careButton, usbPower, dialStrap } = this.wiring;
    for (const pin of [...needle, clothButton, careButton, dialStrap]) if (pin !== null) this.setLevel(pin, true);
    if (usbPower !== null) this.setLevel(usbPower, this.isUsbPlugged);
    for (const pin of Object.values(this.wiring.bus)) this.setLevel(pin, true);
  }

  #start({ cause, kept, halted = null }) {
    const machine = (this.machine = new Machine(this));
    const { rp2040, watchdog } = machine;
    if (kept) {
      rp2040.sram.set(kept.sram);
      watchdog.scratchData.set(kept.scratch);
      watchdog.reason = kept.reason;
      watchdog.timer.baseValue = kept.count;
    } else {
      const words = new Uint32Array(rp2040.sram.buffer);
      for (let i = 0; i < words.length; i++) words[i] = this.random() * 2 ** 32;
    }
    this.rtt.forget(rp2040);
    for (const [pin, level] of this.levels) rp2040.gpio[pin].setInputValue(level);
    rp2040.adc.channelValues[DIAL_CHANNEL] = this.dialSteps;
    rp2040.gpio[this.wiring.lamp].addListener(() => this.#noteLamp(this.isLampOn));
    this.i2c.connectLines(rp2040, this.wiring.bus, (pin, level) => this.setLevel(pin, level));
    this.timeline.follow(machine.clock);
    this.resets.push({ t_ns: Math.round(this.nowNs), cause, ...(halted === null ? {} : { halted }) });
  }

  #afterEnd() {
    const { machine } = this;
    const { end, rp2040, watchdog } = machine;
    this.instructionsBefore += machine.instructions;
    this.#noteLamp(false);
    this.timeline.leave();
    this.machine = null;
    if (end.kind === 'reset') {
      const kept = { sram: rp2040.sram, scratch: watchdog.scratchData, reason: watchdog.reason, count: watchdog.timer.counter };
      this.#start({ cause: end.cause, kept, halted: machine.halted });
      return;
    }
    this.lastCut = end.where;
    this.#flashCuts = [];
    this.clockChip.losePower();
  }

  #noteLamp(isOn) {
    const wasOn = this.lampEdges.at(-1)?.[1] ?? this.lampWasOn ?? false;
    if (isOn === wasOn) return;
    this.lampEdges.push([Math.round(this.nowNs), isOn]);
    if (this.lampEdges.length <= LAMP_EDGES_KEPT) return;
    this.lampEdges.shift();
    this.lampEdgesDropped++;
  }

  /** What the firmware has logged since the last call, as hex; of a board without power, what came out before it went. */
  takeLog() {
    if (this.machine !== null) this.rtt.poll(this.machine.rp2040);
    return this.rtt.take();
  }

  /** The watchdog as the firmware would read it. @throws {Error} without power */
  get watchdogState() {
    const { watchdog } = this.#running();
    return {
      enabled: watchdog.enable,
      left_us: watchdog.enable ? Math.floor(watchdog.timer.counter / 2) : null,
      reason: ['none', 'timer', 'forced'][watchdog.reason] ?? 'both',
      scratch: [...watchdog.scratchData],
    };
  }

  /** The lamp's edges since the last call, as [ns, on], and how many older ones there was no room for. */
  takeLampEdges() {
    this.lampWasOn = this.lampEdges.at(-1)?.[1] ?? this.lampWasOn;
    const dropped = this.lampEdgesDropped;
    this.lampEdgesDropped = 0;
    return { edges: this.lampEdges.splice(0), dropped };
  }

  /** The flash has been busy since `fromNs`, and the core with it: it cannot run code from a flash that is busy. */
  noteFlashBusy(fromNs) {
    this.busySpans.push([Math.round(fromNs), Math.round(this.nowNs)]);
    if (this.busySpans.length <= BUSY_SPANS_KEPT) return;
    this.busySpans.shift();
    this.busySpansDropped++;
  }

  /** When the flash was busy since the last call, as [from ns, to ns], and how many older spans there was no room for. */
  takeBusySpans() {
    const dropped = this.busySpansDropped;
    this.busySpansDropped = 0;
    return { spans: this.busySpans.splice(0), dropped };
  }
}
