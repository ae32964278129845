import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { Ds3231, fromBcd, toBcd } from './clock_chip.mjs';
import { I2cWires } from './i2c_devices.mjs';
import { transfer } from './i2c_transfer.mjs';
import { applyPatches } from './patches.mjs';

const ADDRESS = 0x68;
const SECOND_NS = 1e9;
const DAY_NS = 86_400 * SECOND_NS;

/** A chip on a bus in a world whose time the test moves. */
function bench() {
  const rp2040 = new RP2040();
  applyPatches(rp2040);
  const world = { ns: 0 };
  const chip = new Ds3231(() => world.ns);
  new I2cWires([chip]).connect(rp2040.i2c[0], rp2040.clock, () => rp2040.clkSys);
  const read = (register, count) => transfer(rp2040, ADDRESS, [register], count);
  const write = (register, ...bytes) => transfer(rp2040, ADDRESS, [register, ...bytes], 0);
  return { chip, world, read, write };
}

test('binary-coded decimal: the digits are the hex digits', () => {
  assert.deepEqual([0, 9, 10, 59, 99].map(toBcd), [0x00, 0x09, 0x10, 0x59, 0x99]);
  assert.deepEqual([0x00, 0x09, 0x10, 0x59, 0x99].map(fromBcd), [0, 9, 10, 59, 99]);
});

test('a new chip says that its oscillator was stopped, and control reads 0x1C (data sheet, power-on state)', () => {
  const { read } = bench();
  assert.deepEqual(read(0x0e, 2), [0x1c, 0x88]);
});

test('what is written is read back and goes on counting across midnight, month and leap day', () => {
  const { world, read, write } = bench();
  write(0, 0x58, 0x59, 0x23, 0x03, 0x28, 0x02, 0x28);
  assert.deepEqual(read(0, 7), [0x58, 0x59, 0x23, 0x03, 0x28, 0x02, 0x28]);
  world.ns += 2 * SECOND_NS;
  assert.deepEqual(read(0, 7), [0x00, 0x00, 0x00, 0x04, 0x29, 0x02, 0x28]);
  world.ns += DAY_NS;
  assert.deepEqual(read(0, 7), [0x00, 0x00, 0x00, 0x05, 0x01, 0x03, 0x28]);
});

test('the weekday counts 1 to 7 from what was written', () => {
  const { world, read, write } = bench();
  write(0, 0, 0, 0, 0x06, 0x01, 0x01, 0x30);
  const days = Array.from({ length: 4 }, () => {
    const [day] = read(3, 1);
    world.ns += DAY_NS;
    return day;
  });
  assert.deepEqual(days, [6, 7, 1, 2]);
});

test('a date is taken as a whole: the 31st is not lost on the way through a shorter month', () => {
  const { read, write } = bench();
  write(0, 0, 0, 0, 1, 0x28, 0x02, 0x31);
  write(0, 0, 0, 0, 1, 0x31, 0x01, 0x31);
  assert.deepEqual(read(4, 3), [0x31, 0x01, 0x31]);
});

test('the twelve-hour mode shows 12 at noon and at midnight with the PM bit apart', () => {
  const { world, read, write } = bench();
  write(0, 0, 0, 0x40 | 0x12, 1, 1, 1, 0x31);
  const hours = [0, 1, 11, 1].map((later) => {
    world.ns += later * 3600 * SECOND_NS;
    return read(2, 1)[0];
  });
  assert.deepEqual(hours, [0x52, 0x41, 0x72, 0x61]);
});

test('the century bit is set when the years run over', () => {
  const { world, read, write } = bench();
  write(0, 0x59, 0x59, 0x23, 1, 0x31, 0x12, 0x99);
  world.ns += SECOND_NS;
  assert.deepEqual(read(4, 3), [0x01, 0x81, 0x00]);
});

test('the pointer runs from 0x12 on to 0x00', () => {
  const { read, write } = bench();
  write(0, 0x42, 0, 0, 1, 1, 1, 0x31);
  assert.deepEqual(read(0x11, 3), [25, 0, 0x42]);
});

test('the oscillator-stop flag can be cleared but not set by writing', () => {
  const { chip, read, write } = bench();
  write(0x0f, 0x08);
  assert.deepEqual(read(0x0f, 1), [0x08]);
  write(0x0f, 0x88);
  assert.deepEqual(read(0x0f, 1), [0x08]);
  chip.oscillatorWasStopped = true;
  assert.deepEqual(read(0x0f, 1), [0x88]);
});

test('with its battery it counts on without power, without a battery it starts again and says so', () => {
  const { chip, world, read, write } = bench();
  write(0, 0, 0, 0x12, 1, 1, 1, 0x31);
  write(0x0f, 0);
  chip.losePower();
  world.ns += 3600 * SECOND_NS;
  assert.deepEqual([read(2, 1), read(0x0f, 1)], [[0x13], [0x00]]);
  chip.hasBattery = false;
  chip.losePower();
  assert.deepEqual([read(4, 3), read(0x0f, 1)], [[0x01, 0x01, 0x00], [0x80]]);
});

test('drift of 2 millionths is 63 seconds in a year of 365 days', () => {
  const { chip, world } = bench();
  chip.unixMs = Date.UTC(2031, 0, 1);
  chip.driftPpm = 2;
  world.ns += 365 * DAY_NS;
  assert.equal(Math.floor((chip.unixMs - Date.UTC(2032, 0, 1)) / 1000), 63);
});

test('alarms are kept, and the temperature cannot be written', () => {
  const { read, write } = bench();
  write(0x07, 0x11, 0x22);
  write(0x11, 0x55);
  assert.deepEqual([read(0x07, 2), read(0x11, 1)], [[0x11, 0x22], [25]]);
});

test('a chip that is not there is not acknowledged', () => {
  const { chip, read } = bench();
  chip.isPresent = false;
  assert.equal(read(0, 7), null);
});
