import { romChecksum } from './boot_rom.mjs';

/**
 * Programs small enough to stand in place of the second stage at the start of flash, for tests that need the core to run
 * something. A program is a row of stores and increments, then a tail of Thumb halfwords; its literals and the ROM's checksum
 * follow. Encodings are from the ARMv6-M manual, A6.7.
 */
const PROGRAM_BYTES = 252;
const ldrLiteral = (register, words) => 0x4800 | (register << 8) | words;
const STR_R1_R0 = 0x6001;
const LDR_R1_R0 = 0x6801;
const ADDS_R1_1 = 0x3101;

/** Tails. */
export const LOOP_FOR_EVER = [0xe7fe];
export const STORE_AGAIN_FOR_EVER = [0xe7fd];
export const SLEEP_FOR_EVER = [0xbf30, 0xe7fd];
export const PANIC = [0xde00];

/** `store(address, value)` */
export const store = (address, value) => ({ literals: [address, value], code: [STR_R1_R0] });

/** `increment(address)` adds one to a register or a word of memory. */
export const increment = (address) => ({ literals: [address], code: [LDR_R1_R0, ADDS_R1_1, STR_R1_R0] });

/** @returns {{segments: {offset: number, bytes: Uint8Array}[], symbols: Map<string, number>}} as `readElf` gives it */
export function tinyProgram(steps, tail = LOOP_FOR_EVER) {
  const halves = steps.reduce((sum, step) => sum + step.literals.length + step.code.length, 0) + tail.length;
  const literalsAt = Math.ceil((halves * 2) / 4) * 4;
  const literals = [];
  const code = [];
  for (const step of steps) {
    step.literals.forEach((literal, register) => {
      const programCounter = Math.floor((code.length * 2 + 4) / 4) * 4;
      code.push(ldrLiteral(register, (literalsAt + literals.length * 4 - programCounter) / 4));
      literals.push(literal);
    });
    code.push(...step.code);
  }
  code.push(...tail);
  if (literalsAt + literals.length * 4 > PROGRAM_BYTES) throw new Error('the program does not fit in the second stage');
  const bytes = new Uint8Array(256);
  const view = new DataView(bytes.buffer);
  code.forEach((half, i) => view.setUint16(2 * i, half, true));
  literals.forEach((literal, i) => view.setUint32(literalsAt + 4 * i, literal, true));
  view.setUint32(PROGRAM_BYTES, romChecksum(bytes.subarray(0, PROGRAM_BYTES)), true);
  return { segments: [{ offset: 0, bytes }], symbols: new Map() };
}
