import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { As5600, I2cWires } from './i2c_devices.mjs';
import { applyPatches } from './patches.mjs';
import { transfer } from './i2c_transfer.mjs';

function bench() {
  const rp2040 = new RP2040();
  applyPatches(rp2040);
  const knob = new As5600();
  const wires = new I2cWires([knob]);
  wires.connect(rp2040.i2c[0], rp2040.clock, () => rp2040.clkSys);
  return { rp2040, knob, wires };
}

test('the angle is read high byte first from 0x0C', () => {
  const { rp2040, knob } = bench();
  knob.angle = 0xabc;
  assert.deepEqual(transfer(rp2040, 0x36, [0x0c], 2), [0x0a, 0xbc]);
});

test('a read from STATUS goes on to the angle', () => {
  const { rp2040, knob } = bench();
  knob.angle = 0x123;
  knob.status = As5600.MAGNET_DETECTED | As5600.MAGNET_WEAK;
  assert.deepEqual(transfer(rp2040, 0x36, [0x0b], 3), [0x30, 0x01, 0x23]);
});

test('a read that begins at the angle can be repeated without setting the pointer again', () => {
  const { rp2040, knob } = bench();
  knob.angle = 0x456;
  transfer(rp2040, 0x36, [0x0c], 2);
  knob.angle = 0x789;
  assert.deepEqual(transfer(rp2040, 0x36, [], 2), [0x07, 0x89]);
  assert.deepEqual(transfer(rp2040, 0x36, [], 4), [0x07, 0x89, 0x07, 0x89]);
  assert.deepEqual([1, 2, 3].map(() => transfer(rp2040, 0x36, [], 1)), [[0x07], [0x07], [0x07]]);
});

test('a sensor that is not there, and an address that nobody has, are not acknowledged', () => {
  const { rp2040, knob } = bench();
  assert.equal(transfer(rp2040, 0x37, [0x0b], 1), null);
  knob.isPresent = false;
  assert.equal(transfer(rp2040, 0x36, [0x0b], 1), null);
  knob.isPresent = true;
  assert.deepEqual(transfer(rp2040, 0x36, [0x0b], 1), [0x20]);
});

test('a stuck bus answers nothing until it is freed', () => {
  const { rp2040, wires } = bench();
  wires.isStuck = true;
  assert.equal(transfer(rp2040, 0x36, [0x0b], 1), undefined);
  wires.isStuck = false;
  rp2040.clock.tick(2e6);
  assert.equal(rp2040.readUint32(0x40044010) & 0xff, 0x20);
});

test('a driver that gave up twice on a stuck bus is answered once the bus is free', () => {
  const { rp2040, knob, wires } = bench();
  wires.isStuck = true;
  assert.equal(transfer(rp2040, 0x36, [0x0b], 1), undefined);
  assert.equal(transfer(rp2040, 0x36, [0x0c], 2), undefined);
  wires.isStuck = false;
  rp2040.clock.tick(2e6);
  knob.angle = 0x321;
  assert.deepEqual(transfer(rp2040, 0x36, [0x0c], 2), [0x03, 0x21]);
});

test('at 625 clocks high and 625 low a byte takes 90 us, an address before it as long', () => {
  const { rp2040 } = bench();
  rp2040.writeUint32(0x4004401c, 625);
  rp2040.writeUint32(0x40044020, 625);
  rp2040.writeUint32(0x4004406c, 1);
  rp2040.writeUint32(0x40044004, 0x36);
  rp2040.writeUint32(0x40044010, 0x0b | (1 << 9));
  const isIdle = () => (rp2040.readUint32(0x40044070) & 1) === 0;
  rp2040.clock.tick(179e3);
  assert.equal(isIdle(), false);
  rp2040.clock.tick(2e3);
  assert.equal(isIdle(), true);
});

test('a byte written into a register of the encoder is counted, one that only sets the pointer is not', () => {
  const knob = new As5600();
  knob.start(true);
  knob.write(0x0b);
  knob.stop();
  assert.equal(knob.writes, 0);
  knob.start(true);
  knob.write(0xff);
  knob.write(0x40);
  knob.stop();
  assert.equal(knob.writes, 1);
});

/** Lines on pins 4 and 5, whose clock is pulled low and let go by hand. */
function lines(wires, rp2040) {
  const levels = new Map();
  wires.connectLines(rp2040, { data: 4, clock: 5 }, (pin, level) => levels.set(pin, level));
  rp2040.writeUint32(0x4001402c, 5);
  const pulse = () => {
    rp2040.writeUint32(0xd0000024, 1 << 5);
    rp2040.writeUint32(0xd0000028, 1 << 5);
  };
  return { data: () => levels.get(4), pulse };
}

test('a held data line is let go after as many clock pulses as were owed, not one earlier', () => {
  const { rp2040, wires } = bench();
  const { data, pulse } = lines(wires, rp2040);
  assert.equal(data(), true);
  wires.holdData(3);
  assert.equal(data(), false);
  pulse();
  pulse();
  assert.deepEqual([data(), wires.isDataHeld], [false, true]);
  pulse();
  assert.deepEqual([data(), wires.isDataHeld], [true, false]);
});

test('no controller starts while the data line is held, and one that was reset has forgotten that it wanted to', () => {
  const { rp2040, knob, wires } = bench();
  lines(wires, rp2040);
  knob.angle = 0x123;
  wires.holdData(1);
  assert.equal(transfer(rp2040, 0x36, [0x0c], 2), undefined);
  wires.holdData(0);
  rp2040.writeUint32(0x4000c000, 1 << 3);
  rp2040.writeUint32(0x4000c000, 0);
  assert.deepEqual(transfer(rp2040, 0x36, [0x0c], 2), [0x01, 0x23]);
});

test('a device that hangs costs its own transfer and, after a reset, nobody else\'s', () => {
  const { rp2040, knob } = bench();
  knob.hangs = true;
  assert.equal(transfer(rp2040, 0x36, [0x0b], 1), undefined);
  rp2040.writeUint32(0x4000c000, 1 << 3);
  rp2040.writeUint32(0x4000c000, 0);
  assert.equal(transfer(rp2040, 0x55, [0x00], 1), null);
  knob.hangs = false;
  assert.deepEqual(transfer(rp2040, 0x36, [0x0b], 1), [0x20]);
});
