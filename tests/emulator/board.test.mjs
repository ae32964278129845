import assert from 'node:assert/strict';
import test from 'node:test';
import { Board } from './board.mjs';
import { ROM_FUNCTIONS } from './boot_rom.mjs';
import { SECTOR_BYTES } from './flash_chip.mjs';
import { increment, LOOP_FOR_EVER, PANIC, SLEEP_FOR_EVER, store, STORE_AGAIN_FOR_EVER, tinyProgram } from './tiny_program.mjs';

const WATCHDOG = { ctrl: 0x40058000, load: 0x40058004, scratch0: 0x4005800c };
const TEN_MS_TWICE_A_TICK = 20_000;
const START_WATCHDOG = [store(WATCHDOG.load, TEN_MS_TWICE_A_TICK), store(WATCHDOG.ctrl, 1 << 30)];
const COUNT_BOOTS = increment(WATCHDOG.scratch0);
const RAM_WORD = 0x20000100;
const AIRCR = 0xe000ed0c;
const LAMP_AS_OUTPUT = [store(0x400140cc, 5), store(0xd0000024, 1 << 25)];
const LAMP_ON = store(0xd0000014, 1 << 25);
const LAMP_TOGGLE = store(0xd000001c, 1 << 25);
const MS = 1e6;

const boardWith = (steps, tail, options = {}) => new Board({ elf: tinyProgram(steps, tail), ...options });
const causes = (board) => board.resets.map(({ cause }) => cause);
const scratch0 = (board) => board.watchdogState.scratch[0];

/** Erases sectors from 16 on through the ROM, as a driver in RAM would. */
function eraseThroughRom(board, sectors = 1) {
  const { rp2040 } = board.machine;
  const { core } = rp2040;
  [core.registers[0], core.registers[1], core.LR, core.PC, core.PM] = [16 * SECTOR_BYTES, sectors * SECTOR_BYTES, 0x20000101, 0x400, true];
  rp2040.onBreak(ROM_FUNCTIONS.indexOf('RE') + 1);
}

test('a watchdog that is not fed resets the machine again and again, and scratch registers count the boots', () => {
  const board = boardWith([COUNT_BOOTS, ...START_WATCHDOG]);
  board.run(35 * MS);
  assert.deepEqual(causes(board), ['power', 'watchdog', 'watchdog', 'watchdog']);
  assert.equal(scratch0(board), 4);
  assert.equal(board.watchdogState.reason, 'timer');
  assert.ok(board.resets.slice(1).every(({ t_ns: at }, i) => Math.abs(at - (i + 1) * 10 * MS) < 0.1 * MS));
});

test('a watchdog wakes a machine that sleeps', () => {
  const board = boardWith(START_WATCHDOG, SLEEP_FOR_EVER);
  board.run(15 * MS);
  assert.deepEqual(causes(board), ['power', 'watchdog']);
});

test('a watchdog that is fed does nothing', () => {
  const board = boardWith([...START_WATCHDOG, START_WATCHDOG[0]], STORE_AGAIN_FOR_EVER);
  board.run(50 * MS);
  assert.deepEqual(causes(board), ['power']);
  assert.equal(board.watchdogState.enabled, true);
});

test('a forced watchdog reset says that it was forced', () => {
  const board = boardWith([store(WATCHDOG.ctrl, 0x80000000)]);
  board.run(1 * MS, () => board.resets.length > 1);
  assert.equal(board.resets[1].cause, 'forced');
  assert.equal(board.watchdogState.reason, 'forced');
});

test('a power cut clears scratch registers and reason', () => {
  const board = boardWith([COUNT_BOOTS, ...START_WATCHDOG]);
  board.run(15 * MS);
  assert.equal(scratch0(board), 2);
  board.powerCycle();
  assert.deepEqual([scratch0(board), board.watchdogState.reason], [0, 'none']);
});

test('SYSRESETREQ resets the machine and keeps scratch registers and memory', () => {
  const board = boardWith([COUNT_BOOTS, increment(RAM_WORD), store(AIRCR, 0x05fa0004)]);
  const before = board.machine.rp2040.readUint32(RAM_WORD);
  board.run(1 * MS, () => board.resets.length > 20);
  const boots = scratch0(board);
  assert.ok(boots > 10, `${boots} boots`);
  assert.deepEqual([...new Set(causes(board))], ['power', 'system']);
  assert.equal(board.machine.rp2040.readUint32(RAM_WORD), (before + boots) >>> 0);
});

test('memory without power holds noise from the seed', () => {
  const words = (seed) => {
    const board = boardWith([], LOOP_FOR_EVER, { seed });
    return [0, 4, 8].map((offset) => board.machine.rp2040.readUint32(RAM_WORD + offset));
  };
  assert.deepEqual(words(5), words(5));
  assert.notDeepEqual(words(5), words(6));
});

test('the clock of the machine starts again with each boot, that of the world goes on, also while the board is off', () => {
  const board = boardWith([], SLEEP_FOR_EVER);
  board.run(100 * MS);
  board.powerCycle(50 * MS);
  board.run(1 * MS);
  assert.equal(Math.round(board.nowNs / MS), 151);
  assert.equal(Math.round(board.machine.clock.nanos / MS), 1);
});

test('strokes are given through resets and power cuts, and each has one rising edge on both needle pins', () => {
  const board = boardWith([], SLEEP_FOR_EVER);
  board.needle.strokes({ count: 10, hz: 100 });
  board.run(35 * MS);
  board.powerCycle(30 * MS);
  assert.deepEqual([board.needle.given, board.needle.left], [6, 4]);
  const { gpio } = board.machine.rp2040;
  const edges = { 14: 0, 15: 0 };
  for (const pin of [14, 15]) {
    const set = gpio[pin].setInputValue;
    gpio[pin].setInputValue = function (level) {
      if (level && !this.rawInputValue) edges[pin]++;
      set.call(this, level);
    };
  }
  board.run(100 * MS);
  assert.deepEqual([board.needle.given, board.needle.left, edges], [10, 0, { 14: 4, 15: 4 }]);
});

test('stopped strokes stop, and the line is high again', () => {
  const board = boardWith([], SLEEP_FOR_EVER);
  board.needle.strokes({ count: 10, hz: 100 });
  board.run(29 * MS);
  board.needle.stop();
  board.run(100 * MS);
  assert.deepEqual([board.needle.given, board.levels.get(15)], [2, true]);
});

test('a pressed button is low for as long as it is held and across a power cut', () => {
  const board = boardWith([], SLEEP_FOR_EVER);
  const level = () => board.machine.rp2040.gpio[16].inputValue;
  assert.equal(level(), true);
  board.press(16, 60);
  board.powerCycle(10 * MS);
  assert.equal(level(), false);
  board.run(49 * MS);
  assert.equal(level(), false);
  board.run(2 * MS);
  assert.equal(level(), true);
});

test('the USB sense pin follows the cable', () => {
  const board = boardWith([], SLEEP_FOR_EVER, { usb: false });
  const level = () => board.machine.rp2040.gpio[24].inputValue;
  assert.equal(level(), false);
  board.setUsbPlugged(true);
  assert.equal(level(), true);
  board.setUsbPlugged(false);
  assert.equal(level(), false);
});

test('the time in which the flash is busy is kept, sector by sector, up to where a cut came', () => {
  const board = boardWith([], SLEEP_FOR_EVER);
  board.run(1 * MS);
  eraseThroughRom(board, 2);
  assert.deepEqual(board.takeBusySpans(), { spans: [[1 * MS, 46 * MS], [46 * MS, 91 * MS]], dropped: 0 });
  board.planCut({ flashOperation: 1, share: 0.2 });
  eraseThroughRom(board);
  assert.deepEqual(board.takeBusySpans().spans, [[91 * MS, 100 * MS]]);
  assert.deepEqual(board.takeBusySpans().spans, []);
});

test('the edges of the lamp are kept with their times, and a power cut puts it out', () => {
  const board = boardWith([...LAMP_AS_OUTPUT, LAMP_ON, LAMP_TOGGLE, LAMP_TOGGLE], SLEEP_FOR_EVER);
  board.run(1 * MS);
  assert.equal(board.isLampOn, true);
  board.powerOff();
  assert.equal(board.isLampOn, false);
  const { edges, dropped } = board.takeLampEdges();
  assert.deepEqual([edges.map(([, on]) => on), dropped], [[true, false, true, false], 0]);
  assert.equal(edges.at(-1)[0], 1 * MS);
  assert.deepEqual(board.takeLampEdges().edges, []);
});

test('a panic halts the core, and a started watchdog still resets it', () => {
  const silent = boardWith([], PANIC);
  silent.run(50 * MS);
  assert.match(silent.machine.halted, /panic/);
  assert.equal(silent.nowNs, 50 * MS);
  const watched = boardWith(START_WATCHDOG, PANIC);
  watched.run(15 * MS);
  assert.equal(watched.resets[1].cause, 'watchdog');
  assert.match(watched.resets[1].halted, /panic/);
});

test('an image with a wrong checksum does not boot', () => {
  const elf = tinyProgram([COUNT_BOOTS]);
  elf.segments[0].bytes[0] ^= 1;
  const board = new Board({ elf });
  board.run(1 * MS);
  assert.match(board.machine.halted, /no bootable image/);
  assert.equal(scratch0(board), 0);
});

test('the power can be cut after a number of instructions and at a moment', () => {
  const board = boardWith([], LOOP_FOR_EVER);
  board.planCut({ instructions: 1234 });
  board.run(10 * MS);
  assert.deepEqual([board.instructions, board.machine, board.lastCut], [1234, null, 'at an instruction']);
  board.powerCycle();
  board.planCut({ ns: 3 * MS });
  const startNs = board.nowNs;
  board.run(10 * MS);
  assert.deepEqual([board.nowNs - startNs, board.machine, board.lastCut], [3 * MS, null, 'at a moment']);
});

test('the power can be cut in an erase, which leaves noise in the sector and the chip off', () => {
  const board = boardWith([], LOOP_FOR_EVER);
  const sector = board.flash.image.subarray(16 * SECTOR_BYTES, 17 * SECTOR_BYTES);
  sector.fill(0);
  board.planCut({ flashOperation: 1, share: 0.5 });
  eraseThroughRom(board);
  board.run(1);
  assert.deepEqual([board.machine, board.lastCut, board.nowNs], [null, 'in an erase', 22.5 * MS]);
  assert.ok(sector.some((byte) => byte !== 0) && sector.some((byte) => byte !== 0xff));
});

test('strokes and the watchdog go on while the flash is busy; the chip finishes that sector and the next is not begun', () => {
  const board = boardWith([], LOOP_FOR_EVER);
  const [sector, next] = [16, 17].map((n) => board.flash.image.subarray(n * SECTOR_BYTES, (n + 1) * SECTOR_BYTES).fill(0));
  board.needle.strokes({ count: 4, hz: 100 });
  for (const { literals: [address, value] } of START_WATCHDOG) board.machine.rp2040.writeUint32(address, value);
  eraseThroughRom(board, 2);
  assert.equal(board.needle.given, 4);
  board.run(1);
  assert.deepEqual(causes(board), ['power', 'watchdog']);
  assert.ok(sector.every((byte) => byte === 0xff) && next.every((byte) => byte === 0));
});

test('a new image takes its own sectors and leaves the rest of flash', () => {
  const board = boardWith([], SLEEP_FOR_EVER);
  board.flash.image[16 * SECTOR_BYTES] = 0x55;
  board.load(tinyProgram([COUNT_BOOTS], SLEEP_FOR_EVER));
  board.powerCycle();
  board.run(1 * MS);
  assert.deepEqual([scratch0(board), board.flash.image[16 * SECTOR_BYTES]], [1, 0x55]);
});
