import { readFileSync, writeFileSync } from 'node:fs';
import { Board } from './board.mjs';

const hexBytes = (hex) => {
  if (typeof hex !== 'string' || !/^([0-9a-f]{2})*$/i.test(hex)) throw new Error('hex must be an even number of hex digits');
  return Buffer.from(hex, 'hex');
};

const required = (value, name) => {
  if (value === undefined) throw new Error(`the field ${name} is missing`);
  return value;
};

/**
 * One board and the requests that drive it; README.md says what each of them takes and answers. The machine's bytes, resets, cuts
 * and halts come back with whichever request they happened in.
 */
export class Session {
  /** @param {ConstructorParameters<typeof Board>[0]} options */
  constructor(options) {
    this.board = new Board(options);
  }

  /** @returns {object} the reply; never throws, a failure is `{error}` in the reply */
  handle(request) {
    const { board } = this;
    let answer;
    try {
      answer = this.#perform(request);
    } catch (error) {
      answer = { error: String(error.message ?? error) };
    }
    const { machine } = board;
    const reply = {
      t_ns: Math.round(board.nowNs),
      uptime_ns: machine ? Math.round(machine.clock.nanos) : null,
      insns: board.instructions,
      powered: machine !== null,
      rx: Buffer.from(board.received.splice(0)).toString('hex'),
    };
    const resets = board.resets.splice(0);
    if (resets.length > 0) reply.resets = resets;
    if (board.lastCut !== null) reply.powercut = board.lastCut;
    board.lastCut = null;
    if (machine !== null && machine.halted !== null) reply.halted = machine.halted;
    return { ...reply, ...answer };
  }

  #perform({ op, ...fields }) {
    if (!Object.hasOwn(OPERATIONS, op)) throw new Error(`there is no operation ${op}`);
    const { takes, perform } = OPERATIONS[op];
    const unknown = Object.keys(fields).find((field) => !takes.includes(field));
    if (unknown !== undefined) throw new Error(`${op} takes no field ${unknown}, only: ${takes.join(', ') || 'none'}`);
    return perform(this.board, fields) ?? {};
  }
}

const TIME = {
  run: {
    takes: ['ns'],
    perform: (board, { ns }) => board.run(required(ns, 'ns')),
  },
  run_until_rx: {
    takes: ['ns', 'delimiter'],
    perform: (board, { ns, delimiter = 0 }) => {
      const { received } = board;
      const hasArrived = delimiter === null ? () => received.length > 0 : () => received.includes(delimiter);
      board.run(required(ns, 'ns'), hasArrived);
      return { arrived: hasArrived() };
    },
  },
  run_until_usb: {
    takes: ['ns'],
    perform: (board, { ns }) => {
      const isOpen = () => board.machine?.usb.isOpen ?? false;
      board.run(required(ns, 'ns'), isOpen);
      return { connected: isOpen() };
    },
  },
};

const HANDS = {
  pulses: {
    takes: ['n', 'hz', 'duty'],
    perform: (board, { n, hz, duty }) => board.needle.strokes({ count: required(n, 'n'), hz: required(hz, 'hz'), duty }),
  },
  stop_pulses: { takes: [], perform: (board) => board.needle.stop() },
  press: {
    takes: ['pin', 'ms'],
    perform: (board, { pin, ms = 60 }) => board.press(required(pin, 'pin'), ms),
  },
  hold: {
    takes: ['pin', 'down'],
    perform: (board, { pin, down }) => board.setLevel(required(pin, 'pin'), !required(down, 'down')),
  },
  level: {
    takes: ['pin', 'high'],
    perform: (board, { pin, high }) => board.setLevel(required(pin, 'pin'), required(high, 'high')),
  },
  angle: { takes: ['v'], perform: (board, { v }) => void (board.knob.angle = required(v, 'v') & 0xfff) },
  dial: { takes: ['v'], perform: (board, { v }) => board.setDial(required(v, 'v')) },
  status: { takes: ['v'], perform: (board, { v }) => void (board.knob.status = required(v, 'v') & 0xff) },
  sensor: { takes: ['present'], perform: (board, { present }) => void (board.knob.isPresent = required(present, 'present')) },
  bus: {
    takes: ['stuck', 'held'],
    perform: (board, { stuck, held }) => {
      if (stuck !== undefined) board.i2c.isStuck = stuck;
      if (held !== undefined) board.i2c.holdData(held);
    },
  },
  clock: { takes: ['set', 'present', 'stopped', 'battery', 'drift_ppm', 'hangs'], perform: setClock },
};

function setClock(board, { set, present, stopped, battery, drift_ppm: driftPpm, hangs }) {
  const { clockChip } = board;
  if (set !== undefined) {
    const ms = Date.parse(`${set}Z`);
    if (Number.isNaN(ms)) throw new Error(`the clock cannot be set to ${set}: write 2031-04-05T06:07:08`);
    clockChip.unixMs = ms;
    clockChip.oscillatorWasStopped = false;
  }
  if (present !== undefined) clockChip.isPresent = present;
  if (stopped !== undefined) clockChip.oscillatorWasStopped = stopped;
  if (battery !== undefined) clockChip.hasBattery = battery;
  if (hangs !== undefined) clockChip.hangs = hangs;
  if (driftPpm !== undefined) clockChip.driftPpm = driftPpm;
  return {
    clock: new Date(clockChip.unixMs).toISOString().replace('Z', ''),
    present: clockChip.isPresent,
    stopped: clockChip.oscillatorWasStopped,
  };
}

const CABLE = {
  send: { takes: ['hex'], perform: (board, { hex }) => board.usb.send(hexBytes(hex)) },
  usb: { takes: ['plugged'], perform: (board, { plugged }) => board.setUsbPlugged(required(plugged, 'plugged')) },
  port: { takes: ['open'], perform: (board, { open }) => board.usb.setPortOpen(required(open, 'open')) },
  host_reads: { takes: ['on'], perform: (board, { on }) => board.usb.setReading(required(on, 'on')) },
};

const POWER = {
  cut: {
    takes: ['insns', 'ns', 'flash_op', 'erase', 'share'],
    perform: (board, { insns, ns, flash_op: flashOperation, erase, share }) => board.planCut({ instructions: insns, ns, flashOperation, erase, share }),
  },
  power_off: { takes: [], perform: (board) => board.powerOff() },
  reboot: { takes: ['off_ns'], perform: (board, { off_ns: offNs }) => board.powerCycle(offNs) },
  load_elf: { takes: ['path'], perform: (board, { path }) => board.load(required(path, 'path')) },
};

const FLASH = {
  save_flash: { takes: ['path'], perform: (board, { path }) => writeFileSync(required(path, 'path'), board.flash.image) },
  load_flash: { takes: ['path'], perform: (board, { path }) => board.flash.setImage(readFileSync(required(path, 'path'))) },
  read_flash: {
    takes: ['at', 'len'],
    perform: (board, { at, len }) => {
      const bytes = board.flash.image.subarray(required(at, 'at'), at + required(len, 'len'));
      return { hex: Buffer.from(bytes).toString('hex') };
    },
  },
  write_flash: {
    takes: ['at', 'hex'],
    perform: (board, { at, hex }) => board.flash.image.set(hexBytes(hex), required(at, 'at')),
  },
  flash_times: {
    takes: ['sector_erase_ns', 'page_program_ns'],
    perform: (board, { sector_erase_ns: erase, page_program_ns: program }) => {
      const { times } = board.flash;
      times.sectorEraseNs = erase ?? times.sectorEraseNs;
      times.pageProgramNs = program ?? times.pageProgramNs;
    },
  },
  flash_busy: { takes: [], perform: (board) => board.takeBusySpans() },
  flash_ops: {
    takes: [],
    perform: ({ flash }) => ({ ...flash.counts, most_worn: { sector: flash.mostWorn, erases: flash.sectorErases[flash.mostWorn] } }),
  },
};

const pullOf = ({ pullupEnabled, pulldownEnabled }) => ['none', 'down', 'up', 'both'][2 * pullupEnabled + pulldownEnabled];

const VIEW = {
  led: { takes: [], perform: (board) => ({ on: board.isLampOn, ...board.takeLampEdges() }) },
  rtt: { takes: [], perform: (board) => ({ hex: board.takeLog() }) },
  watchdog: { takes: [], perform: (board) => board.watchdogState },
  state: {
    takes: [],
    perform: (board) => ({
      pulses_given: board.needle.given,
      pulses_left: board.needle.left,
      i2c_transactions: board.i2c.transactions,
      knob_writes: board.knob.writes,
      needle_pulls: board.machine ? board.wiring.needle.map((pin) => pullOf(board.machine.rp2040.gpio[pin])) : null,
      data_held: board.i2c.isDataHeld,
      usb_plugged: board.isUsbPlugged,
      port_open: board.machine?.usb.isOpen ?? false,
      sleeping: board.machine?.rp2040.core.waiting ?? false,
      pc: board.machine ? `0x${board.machine.rp2040.core.PC.toString(16)}` : null,
      errors: board.machine?.errors.slice(0, 20) ?? [],
    }),
  },
};

const OPERATIONS = { ...TIME, ...HANDS, ...CABLE, ...POWER, ...FLASH, ...VIEW };
