import { RP2040 } from 'rp2040js';
import { hasBootableSecondStage, makeBootRom, serveRomCall } from './boot_rom.mjs';
import { applyPatches, machineParts } from './patches.mjs';
import { UsbHost } from './usb_host.mjs';

const ROM_END = 0x4000;
const SECOND_STAGE = 0x10000000;
const CYCLE_NS = 1e9 / 125e6;
const POLL_EVERY = 0x400;

/** The package's reset also fills the flash, twice for each start; here flash belongs to the board. */
class Microcontroller extends RP2040 {
  reset() {
    this.core.reset();
    this.pwm.reset();
  }
}

/**
 * One life of the microcontroller, from a reset to the next one or to a power cut. What outlives it (flash, wires, the devices on
 * the bus, scratch registers) is handed in by the board and belongs there.
 *
 * `end` is null while this life lasts, then says what ended it: `{kind: 'reset', cause}` or `{kind: 'power', where}`.
 * `halted` is null until the core stops for good: a panic, a call that silicon would not survive, nothing to boot. Time goes on
 * then, and a watchdog that has been started still resets the machine.
 */
export class Machine {
  #cutAtNs = Infinity;
  #cutAtInstruction = Infinity;

  /** @param {import('./board.mjs').Board} board */
  constructor(board) {
    this.board = board;
    this.end = null;
    this.halted = null;
    this.instructions = 0;
    this.errors = [];
    const rp2040 = (this.rp2040 = new Microcontroller());
    this.clock = rp2040.clock;
    rp2040.logger = this.#logger();
    rp2040.loadBootrom(makeBootRom());
    this.#shareFlash(board.flash.memory);
    applyPatches(rp2040, board.options.withoutPatches);
    rp2040.onBreak = (code) => this.#onBreak(code);
    rp2040.randomBit = () => Number(board.random() < 0.5);
    rp2040.onFlashCommand = (command) => board.flash.answer(command);
    rp2040.onSystemReset = () => this.#reset('system');
    this.watchdog = machineParts(rp2040).watchdog;
    this.watchdog.onWatchdogTrigger = () => this.#reset(this.watchdog.reason === 1 ? 'watchdog' : 'forced');
    board.i2c.connect(rp2040.i2c[0], this.clock, () => rp2040.clkSys);
    this.usb = new UsbHost(rp2040, { isPlugged: board.isUsbPlugged, onReceive: (bytes) => board.received.push(...bytes) });
    if (!hasBootableSecondStage(board.flash.memory)) this.#halt('no bootable image: the checksum of the second stage is wrong');
    rp2040.core.LR = 0;
    rp2040.core.PC = SECOND_STAGE;
  }

  /** Plans a power cut after `instructions`, or at `ns` of this machine's clock; undefined leaves the plan as it is. */
  planCut({ instructions, ns }) {
    if (instructions !== undefined) this.#cutAtInstruction = this.instructions + instructions;
    if (ns !== undefined) this.#cutAtNs = this.clock.nanos + ns;
  }

  cutPower(where) {
    this.end ??= { kind: 'power', where };
  }

  /**
   * Runs until the machine's clock shows `untilNs`, the machine ends, or `isDone` says so. `isDone` is asked whenever the core
   * sleeps and every 1,024 instructions. A sleeping core costs nothing: time jumps to the next event.
   */
  run(untilNs, isDone) {
    const { clock, rp2040, board } = this;
    const core = rp2040.core;
    const endNs = Math.min(untilNs, this.#cutAtNs);
    let left = this.#cutAtInstruction - this.instructions;
    let turns = 0;
    let executed = 0;
    while (clock.nanos < endNs && this.end === null) {
      if (core.waiting || this.halted !== null) {
        if (isDone?.()) break;
        const next = clock.nextAlarm ? clock.nextAlarm.nanos - clock.nanos : Infinity;
        clock.tick(Math.min(Math.max(next, CYCLE_NS), endNs - clock.nanos));
      } else {
        if (left-- <= 0) {
          this.cutPower('at an instruction');
          break;
        }
        executed++;
        clock.tick(core.executeInstruction() * CYCLE_NS);
      }
      if ((++turns & (POLL_EVERY - 1)) === 0) {
        board.rtt.poll(rp2040);
        if (isDone?.()) break;
      }
    }
    this.instructions += executed;
    if (clock.nanos >= this.#cutAtNs) this.cutPower('at a moment');
    board.rtt.poll(rp2040);
  }

  /** Passes `ns` with the flash busy; see `FlashChip.erase` for what is returned. */
  #busy(ns, isErase) {
    const fromNs = this.board.nowNs;
    const outcome = this.#passBusy(ns, isErase);
    this.board.noteFlashBusy(fromNs);
    return outcome;
  }

  #passBusy(ns, isErase) {
    const { clock, board } = this;
    const planned = board.nextFlashCut(isErase);
    const untilCut = planned === null ? this.#cutAtNs - clock.nanos : planned * ns;
    if (ns < untilCut) {
      clock.tick(ns);
      return { done: 1, stops: this.end !== null };
    }
    clock.tick(Math.max(0, untilCut));
    return { done: Math.max(0, untilCut) / ns, stops: true };
  }

  #onBreak(code) {
    const { rp2040, board } = this;
    const address = rp2040.core.PC;
    if (address >= ROM_END) {
      this.#halt(`firmware panic: break ${code} at 0x${address.toString(16)}`);
      return;
    }
    try {
      serveRomCall(code, rp2040, {
        erase: (offset, length) => this.#cutIfTorn('in an erase', (busy) => board.flash.erase(offset, length, busy)),
        program: (offset, bytes) => this.#cutIfTorn('in a program', (busy) => board.flash.program(offset, bytes, busy)),
        toBootLoader: () => this.#halt('waiting in the USB boot loader'),
      });
    } catch (error) {
      this.#halt(error.message);
    }
  }

  #cutIfTorn(where, operate) {
    let isTorn = false;
    operate((ns) => {
      const outcome = this.#busy(ns, where === 'in an erase');
      isTorn ||= outcome.done < 1;
      return outcome;
    });
    if (isTorn) this.end = { kind: 'power', where };
  }

  #reset(cause) {
    this.end ??= { kind: 'reset', cause };
  }

  #halt(reason) {
    this.halted ??= reason;
  }

  #shareFlash(memory) {
    this.rp2040.flash = memory;
    this.rp2040.flash16 = new Uint16Array(memory.buffer);
    this.rp2040.flashView = new DataView(memory.buffer);
  }

  #logger() {
    const ignore = () => {};
    return { debug: ignore, info: ignore, warn: ignore, error: (part, message) => this.errors.push(`${part}: ${message}`) };
  }
}
