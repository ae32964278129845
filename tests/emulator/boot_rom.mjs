/**
 * A boot ROM of our own. It holds what the firmware's libraries look up (datasheet 2.8): the version, the function table and the
 * look-up function. Each function is `BKPT #n; BX LR`: the break stops in script, which does the work, and the core returns.
 * Start-up itself is not in here: a machine starts at the second stage in flash, after its checksum has been looked at.
 */
const ROM_BYTES = 16 * 1024;
const STACK_TOP = 0x20042000;
const LOOK_UP = 0x100;
const FUNCTION_TABLE = 0x200;
const EMPTY_DATA_TABLE = 0x300;
const FUNCTIONS = 0x400;
const BX_LR = 0x4770;
const BKPT = 0xbe00;
const SECOND_STAGE_BYTES = 256;

/** Codes of the functions, in the order of their break numbers, which start at 1. */
export const ROM_FUNCTIONS = ['IF', 'EX', 'RE', 'RP', 'FC', 'CX', 'MC', 'MS', 'C4', 'S4', 'UB', 'P3', 'R3', 'L3', 'T3'];

/**
 * Thumb code of `look_up(table, code)`: walks (code, address) pairs of 16 bits until the code matches (returns the address) or
 * is zero (returns zero).
 */
const LOOK_UP_CODE = [
  0x8802, // ldrh r2, [r0]
  0x2a00, // cmp r2, #0
  0xd005, // beq none
  0x428a, // cmp r2, r1
  0xd001, // beq found
  0x3004, // adds r0, #4
  0xe7f8, // b start
  0x8840, // found: ldrh r0, [r0, #2]
  BX_LR,
  0x2000, // none: movs r0, #0
  BX_LR,
];

/** @returns {Uint32Array} the 16 KiB image, for `RP2040.loadBootrom` */
export function makeBootRom() {
  const rom = new DataView(new ArrayBuffer(ROM_BYTES));
  const put = (address, ...halves) => halves.forEach((half, i) => rom.setUint16(address + 2 * i, half, true));
  rom.setUint32(0, STACK_TOP, true);
  rom.setUint32(4, LOOK_UP | 1, true);
  put(0x10, 0x754d, 0x0301); // "Mu", 1, version 3 (chip B2)
  put(0x14, FUNCTION_TABLE, EMPTY_DATA_TABLE, LOOK_UP | 1);
  put(LOOK_UP, ...LOOK_UP_CODE);
  ROM_FUNCTIONS.forEach((code, i) => {
    put(FUNCTION_TABLE + 4 * i, code.charCodeAt(0) | (code.charCodeAt(1) << 8), (FUNCTIONS + 8 * i) | 1);
    put(FUNCTIONS + 8 * i, BKPT | (i + 1), BX_LR);
  });
  return new Uint32Array(rom.buffer);
}

/**
 * Does the work of ROM function number `breakCode`, with its arguments in r0 to r3.
 *
 * The flash cannot be read between EX and the re-entry into XIP, so whoever calls these must sit in RAM, and with interrupts
 * masked while the chip is busy. A caller that does not would crash on silicon; here it gets an error that says so.
 *
 * @param {number} breakCode
 * @param {import('rp2040js').RP2040} rp2040
 * @param {{erase: Function, program: Function, toBootLoader: Function}} board
 * @throws {Error} on a call that silicon would not survive, and on an unknown function
 */
export function serveRomCall(breakCode, rp2040, board) {
  const code = ROM_FUNCTIONS[breakCode - 1];
  const registers = rp2040.core.registers;
  const [r0, r1, r2] = registers;
  if (['EX', 'RE', 'RP', 'FC'].includes(code) && registers[14] >>> 28 !== 2) {
    throw new Error(`ROM function ${code} called from flash, LR is 0x${registers[14].toString(16)}`);
  }
  if (['RE', 'RP'].includes(code) && !rp2040.core.PM) throw new Error(`ROM function ${code} called with interrupts enabled`);
  switch (code) {
    case 'IF':
    case 'EX':
    case 'FC':
    case 'CX':
      return; // Whether flash is memory-mapped or not makes no difference here.
    case 'RE':
      return board.erase(r0, r1);
    case 'RP':
      return board.program(r0, Uint8Array.from({ length: r2 }, (_, i) => rp2040.readUint8(r1 + i)));
    case 'UB':
      return board.toBootLoader();
    case 'MC':
    case 'C4':
      for (let i = 0; i < r2; i++) rp2040.writeUint8(r0 + i, rp2040.readUint8(r1 + i));
      return;
    case 'MS':
    case 'S4':
      for (let i = 0; i < r2; i++) rp2040.writeUint8(r0 + i, r1 & 0xff);
      return;
    default:
      registers[0] = countBits(code, r0, breakCode);
  }
}

function countBits(code, value, breakCode) {
  const bits = value.toString(2).padStart(32, '0');
  switch (code) {
    case 'P3':
      return bits.replaceAll('0', '').length;
    case 'R3':
      return parseInt([...bits].reverse().join(''), 2);
    case 'L3':
      return Math.clz32(value);
    case 'T3':
      return value === 0 ? 32 : 31 - bits.lastIndexOf('1');
    default:
      throw new Error(`the boot ROM has no function number ${breakCode}`);
  }
}

/**
 * CRC-32 as the ROM computes it over the second stage (datasheet 2.8.1.3.1): polynomial 0x04c11db7, start 0xffffffff, not
 * reflected, not inverted; also known as CRC-32/MPEG-2.
 */
export function romChecksum(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte << 24;
    for (let bit = 0; bit < 8; bit++) crc = crc & 0x80000000 ? (crc << 1) ^ 0x04c11db7 : crc << 1;
  }
  return crc >>> 0;
}

/** Whether the first 256 bytes of flash carry a valid checksum; the ROM boots nothing else. */
export function hasBootableSecondStage(flash) {
  const body = flash.subarray(0, SECOND_STAGE_BYTES - 4);
  const stored = new DataView(flash.buffer, flash.byteOffset + SECOND_STAGE_BYTES - 4, 4).getUint32(0, true);
  return romChecksum(body) === stored;
}
