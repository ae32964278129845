import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { applyPatches } from './patches.mjs';
import { seededRandom } from './random.mjs';

const PIO0 = 0x50200000;
const PIN = 15;
const SLOW_CLOCK = 62.5 * 65536;
const CYCLE_NS = 500;
const DMA = 0x50000000;
const TIMERAWL = 0x40054028;
const RING = 0x20001000;
const SINK = 0x20000800;

/**
 * Counts the rising edges of a pin that is low for a while before and stays high for a while after, by hand from the datasheet's
 * 3.4. Each loop is twenty times two cycles; each edge pushes the count, negative.
 */
const FILTER = [
  0xe040, // set y, 0
  0x200f, // low: wait 0 gpio 15
  0xe033, // set x, 19
  0x00c1, // still low: jmp pin, low
  0x0043, // jmp x--, still low
  0x208f, // high: wait 1 gpio 15
  0xe033, // set x, 19
  0x00c9, // still high: jmp pin, yes
  0x0005, // jmp high
  0x0047, // yes: jmp x--, still high
  0x008b, // jmp y--, next
  0xa0c2, // next: mov isr, y
  0x8000, // push noblock
];
const WRAP = (12 << 12) | (1 << 7);

function load(rp2040) {
  const quiet = () => {};
  rp2040.logger = { debug: quiet, info: quiet, warn: quiet, error: quiet };
  rp2040.gpio[PIN].padValue = 0x56;
  rp2040.gpio[PIN].setInputValue(true);
  FILTER.forEach((opcode, i) => rp2040.writeUint32(PIO0 + 0x48 + 4 * i, opcode));
  rp2040.writeUint32(PIO0 + 0xc8, SLOW_CLOCK);
  rp2040.writeUint32(PIO0 + 0xcc, (PIN << 24) | WRAP);
}

function patched() {
  const rp2040 = new RP2040();
  applyPatches(rp2040);
  load(rp2040);
  rp2040.writeUint32(PIO0, 1);
  return rp2040;
}

/** When the level changes, in ns: pulses and glitches of all lengths around the filter's. */
function changes(random, count) {
  let at = 0;
  return Array.from({ length: count }, () => (at += Math.round(random() < 0.5 ? 200 + random() * 6_000 : 200 + random() * 90_000)));
}

/** What the package's own state machine counts when it is stepped cycle by cycle. */
function countByHand(times, endNs) {
  const rp2040 = new RP2040();
  rp2040.pio[0].run = () => {};
  load(rp2040);
  rp2040.writeUint32(PIO0, 1);
  const machine = rp2040.pio[0].machines[0];
  const pushes = [];
  let level = true;
  let next = 0;
  for (let atNs = CYCLE_NS; atNs < endNs; atNs += CYCLE_NS) {
    for (; times[next] < atNs; next++) rp2040.gpio[PIN].setInputValue((level = !level));
    machine.step();
    if (!machine.rxFIFO.empty) pushes.push([atNs, -machine.rxFIFO.pull() >>> 0]);
  }
  return pushes;
}

test('a machine that is run ahead counts what one counts that is stepped cycle by cycle, at the same moments', () => {
  for (let seed = 1; seed <= 20; seed++) {
    const times = changes(seededRandom(seed), 400);
    const endNs = times.at(-1) + 200_000;
    const rp2040 = patched();
    const machine = rp2040.pio[0].machines[0];
    const pushes = [];
    machine.updateDMARx = () => {
      if (!machine.rxFIFO.empty) pushes.push([Math.round(rp2040.clock.nanos), -machine.rxFIFO.pull() >>> 0]);
    };
    let level = true;
    for (const at of times) {
      rp2040.clock.tick(at - rp2040.clock.nanos);
      rp2040.gpio[PIN].setInputValue((level = !level));
    }
    rp2040.clock.tick(endNs - rp2040.clock.nanos);
    const expected = countByHand(times, endNs);
    assert.ok(expected.length > 20, `only ${expected.length} edges`);
    assert.deepEqual(pushes, expected, `seed ${seed}`);
  }
});

test('a machine that waits for a pin leaves nothing to do, however long', () => {
  const rp2040 = patched();
  rp2040.clock.tick(10_000);
  assert.equal(rp2040.clock.nextAlarm, null);
});

test('a machine that is stopped executes nothing more', () => {
  const rp2040 = patched();
  rp2040.gpio[PIN].setInputValue(false);
  rp2040.clock.tick(100_000);
  rp2040.gpio[PIN].setInputValue(true);
  rp2040.clock.tick(10_000);
  rp2040.writeUint32(PIO0, 0);
  rp2040.clock.tick(100_000);
  assert.equal(rp2040.pio[0].machines[0].rxFIFO.itemCount, 0);
});

test('two channels that start each other write down when each word came, and go round in a ring', () => {
  const rp2040 = patched();
  const [to_b, to_a] = [1 << 11, 0];
  const word = 2 << 2;
  const channel = (number, readAt, writeAt, control, register) => {
    const at = DMA + 0x40 * number;
    rp2040.writeUint32(at, readAt);
    rp2040.writeUint32(at + 4, writeAt);
    rp2040.writeUint32(at + 8, 1);
    rp2040.writeUint32(at + register, control | word | 1);
  };
  // B: unpaced, a ring of 16 bytes on the writing side, not started yet (AL1_CTRL). A: paced by the words of state machine 0.
  channel(1, TIMERAWL, RING, (63 << 15) | to_a | (1 << 10) | (4 << 6) | (1 << 5), 0x10);
  channel(0, PIO0 + 0x20, SINK, (4 << 15) | to_b, 0x0c);
  for (let stroke = 1; stroke <= 6; stroke++) {
    rp2040.clock.tick(stroke * 1e6 - 300_000 - rp2040.clock.nanos);
    rp2040.gpio[PIN].setInputValue(false);
    rp2040.clock.tick(300_000);
    rp2040.gpio[PIN].setInputValue(true);
  }
  rp2040.clock.tick(100_000);
  assert.equal(-rp2040.readUint32(SINK) >>> 0, 6);
  // Twenty loops of a microsecond after each edge, and four cycles around them; the fifth stroke goes where the first was.
  const ring = [0, 1, 2, 3].map((i) => rp2040.readUint32(RING + 4 * i));
  assert.deepEqual(ring.map((at) => Math.floor(at / 1000)), [5, 6, 3, 4]);
  for (const at of ring) assert.ok(at % 1000 >= 20 && at % 1000 <= 23, `${at} us`);
  assert.equal(rp2040.readUint32(DMA + 0x44), RING + 8);
});
