import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { hasBootableSecondStage, makeBootRom, ROM_FUNCTIONS, romChecksum, serveRomCall } from './boot_rom.mjs';

const RAM = 0x20001000;
const RETURN_TO_RAM = 0x20000101;
const RETURN_TO_FLASH = 0x10000101;

function machine() {
  const rp2040 = new RP2040();
  rp2040.loadBootrom(makeBootRom());
  return rp2040;
}

/** Runs the ROM's own look-up code on its own table, as the firmware's libraries do (datasheet 2.8.2.1). */
function lookUp(rp2040, code) {
  const half = (address) => rp2040.readUint16(address);
  const { core } = rp2040;
  core.registers[0] = half(0x14);
  core.registers[1] = code.charCodeAt(0) | (code.charCodeAt(1) << 8);
  core.LR = RAM | 1;
  core.PC = half(0x18) & ~1;
  for (let i = 0; core.PC !== RAM; i++) {
    assert.ok(i < 1000, `looking up ${code} does not end`);
    core.executeInstruction();
  }
  return core.registers[0];
}

/** Calls a ROM function with its arguments in registers and returns r0. */
function call(rp2040, code, args, { returnTo = RETURN_TO_RAM, isMasked = true, board = {} } = {}) {
  const { core } = rp2040;
  args.forEach((value, i) => (core.registers[i] = value));
  core.LR = returnTo;
  core.PM = isMasked;
  serveRomCall(ROM_FUNCTIONS.indexOf(code) + 1, rp2040, board);
  return core.registers[0];
}

test('the ROM carries the marker and the version of chip B2 (datasheet 2.8.2)', () => {
  const rp2040 = machine();
  assert.deepEqual([0x10, 0x11, 0x12, 0x13].map((at) => rp2040.readUint8(at)), [0x4d, 0x75, 0x01, 0x03]);
});

test('its look-up finds every function as Thumb code in the ROM, and zero for what is not there', () => {
  const rp2040 = machine();
  const addresses = ROM_FUNCTIONS.map((code) => lookUp(rp2040, code));
  assert.equal(new Set(addresses).size, ROM_FUNCTIONS.length);
  assert.ok(addresses.every((address) => address < 0x4000 && address % 2 === 1));
  assert.equal(lookUp(rp2040, 'ZZ'), 0);
});

test('calling a function stops at the break of its number and returns to the caller', () => {
  const rp2040 = machine();
  const { core } = rp2040;
  const breaks = [];
  rp2040.onBreak = (code) => breaks.push(code);
  const address = lookUp(rp2040, 'RP');
  core.LR = RAM | 1;
  core.PC = address & ~1;
  while (core.PC !== RAM) core.executeInstruction();
  assert.deepEqual(breaks, [ROM_FUNCTIONS.indexOf('RP') + 1]);
});

test('memory is copied and filled byte for byte', () => {
  const rp2040 = machine();
  [1, 2, 3, 4].forEach((byte, i) => rp2040.writeUint8(RAM + i, byte));
  assert.equal(call(rp2040, 'C4', [RAM + 16, RAM, 4]), RAM + 16);
  assert.equal(rp2040.readUint32(RAM + 16), 0x04030201);
  call(rp2040, 'MS', [RAM + 17, 0xee, 2]);
  assert.equal(rp2040.readUint32(RAM + 16), 0x04eeee01);
});

test('bits are counted and reversed', () => {
  const rp2040 = machine();
  assert.equal(call(rp2040, 'P3', [0xf0000001]), 5);
  assert.equal(call(rp2040, 'R3', [0x80000002]), 0x40000001);
  assert.deepEqual([0, 1, 0x80000000].map((value) => call(rp2040, 'L3', [value])), [32, 31, 0]);
  assert.deepEqual([0, 1, 0x80000000].map((value) => call(rp2040, 'T3', [value])), [32, 0, 31]);
});

test('program and erase hand the bytes of the caller to the flash', () => {
  const rp2040 = machine();
  const asked = [];
  const board = { erase: (...what) => asked.push(what), program: (offset, bytes) => asked.push([offset, [...bytes]]) };
  [9, 8, 7].forEach((byte, i) => rp2040.writeUint8(RAM + i, byte));
  call(rp2040, 'RE', [0x1000, 4096], { board });
  call(rp2040, 'RP', [0x1000, RAM, 3], { board });
  assert.deepEqual(asked, [[0x1000, 4096], [0x1000, [9, 8, 7]]]);
});

test('flash functions called from flash or with interrupts enabled are refused', () => {
  const rp2040 = machine();
  assert.throws(() => call(rp2040, 'EX', [], { returnTo: RETURN_TO_FLASH }), /EX called from flash/);
  assert.throws(() => call(rp2040, 'RE', [0, 4096], { isMasked: false }), /RE called with interrupts enabled/);
});

test('an unknown break in the ROM is refused', () => {
  assert.throws(() => serveRomCall(99, machine(), {}), /no function number 99/);
});

test('the checksum of "123456789" is 0x0376E6E7 (catalogue of CRC algorithms, CRC-32/MPEG-2)', () => {
  assert.equal(romChecksum(Buffer.from('123456789')), 0x0376e6e7);
});

test('erased flash does not boot', () => {
  assert.equal(hasBootableSecondStage(new Uint8Array(4096).fill(0xff)), false);
});
