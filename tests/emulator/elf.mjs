import { readFileSync } from 'node:fs';

export const FLASH_BASE = 0x10000000;
const FLASH_END = 0x11000000;
const EM_ARM = 40;
const PT_LOAD = 1;
const SHT_SYMTAB = 2;

/**
 * Reads a 32-bit little-endian ARM ELF file.
 *
 * @param {string} path
 * @returns {{segments: {offset: number, bytes: Uint8Array}[], symbols: Map<string, number>}} what belongs in flash
 *   (`offset` counts from the start of flash) and the address of every named symbol
 * @throws {Error} when the file is not such an ELF or holds nothing for flash
 */
export function readElf(path) {
  const file = readFileSync(path);
  const view = new DataView(file.buffer, file.byteOffset, file.length);
  const isArm32 =
    file.length >= 52 && view.getUint32(0) === 0x7f454c46 && file[4] === 1 && file[5] === 1 && view.getUint16(18, true) === EM_ARM;
  if (!isArm32) throw new Error(`${path} is not a 32-bit little-endian ARM ELF file`);
  const segments = flashSegments(file, view);
  if (segments.length === 0) throw new Error(`${path} holds nothing that is loaded into flash`);
  return { segments, symbols: symbolAddresses(file, view) };
}

function flashSegments(file, view) {
  const table = view.getUint32(28, true);
  const count = view.getUint16(44, true);
  const segments = [];
  for (let i = 0; i < count; i++) {
    const at = table + i * 32;
    const [fileOffset, loadAddress, size] = [4, 12, 16].map((field) => view.getUint32(at + field, true));
    const isForFlash = loadAddress >= FLASH_BASE && loadAddress < FLASH_END;
    if (view.getUint32(at, true) !== PT_LOAD || size === 0 || !isForFlash) continue;
    segments.push({ offset: loadAddress - FLASH_BASE, bytes: Uint8Array.from(file.subarray(fileOffset, fileOffset + size)) });
  }
  return segments;
}

function symbolAddresses(file, view) {
  const table = view.getUint32(32, true);
  const count = view.getUint16(48, true);
  const section = (index) => {
    const at = table + index * 40;
    const [type, offset, size, link] = [4, 16, 20, 24].map((field) => view.getUint32(at + field, true));
    return { type, offset, size, link };
  };
  const symbols = new Map();
  for (let i = 0; i < count; i++) {
    const { type, offset, size, link } = section(i);
    if (type !== SHT_SYMTAB) continue;
    const names = section(link).offset;
    for (let entry = offset; entry < offset + size; entry += 16) {
      const start = names + view.getUint32(entry, true);
      const name = file.toString('latin1', start, file.indexOf(0, start));
      if (name) symbols.set(name, view.getUint32(entry + 4, true));
    }
  }
  return symbols;
}
