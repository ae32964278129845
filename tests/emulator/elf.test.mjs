import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import test from 'node:test';
import { readElf } from './elf.mjs';

/** An ELF file by hand: header, program headers, contents, symbol table with one symbol, its names (System V ABI, chapter 4). */
function elfFile(segments, symbol = { name: '_SEGGER_RTT', value: 0x20000400 }) {
  const names = Buffer.from(`\0${symbol.name}\0`);
  const headersEnd = 52 + 32 * segments.length;
  const contents = Buffer.concat(segments.map(({ bytes }) => Buffer.from(bytes)));
  const symbolsAt = headersEnd + contents.length;
  const namesAt = symbolsAt + 16;
  const sectionsAt = namesAt + names.length;
  const file = Buffer.alloc(sectionsAt + 2 * 40);
  file.set([0x7f, 0x45, 0x4c, 0x46, 1, 1, 1]);
  file.writeUInt16LE(40, 18);
  file.writeUInt32LE(52, 28);
  file.writeUInt32LE(sectionsAt, 32);
  file.writeUInt16LE(segments.length, 44);
  file.writeUInt16LE(2, 48);
  let at = headersEnd;
  segments.forEach(({ type = 1, address, bytes }, i) => {
    [type, at, address, address, bytes.length].forEach((word, field) => file.writeUInt32LE(word, 52 + 32 * i + 4 * field));
    at += bytes.length;
  });
  file.set(contents, headersEnd);
  file.writeUInt32LE(1, symbolsAt);
  file.writeUInt32LE(symbol.value, symbolsAt + 4);
  file.set(names, namesAt);
  [0, 2, 0, 0, symbolsAt, 16, 1].forEach((word, field) => file.writeUInt32LE(word, sectionsAt + 4 * field));
  [0, 3, 0, 0, namesAt, names.length].forEach((word, field) => file.writeUInt32LE(word, sectionsAt + 40 + 4 * field));
  return file;
}

function read(bytes) {
  const folder = mkdtempSync(join(tmpdir(), 'elf-'));
  try {
    const path = join(folder, 'image');
    writeFileSync(path, bytes);
    return readElf(path);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

test('what is loaded into flash is found with its place, what belongs in memory or is not loaded is left out', () => {
  const { segments } = read(
    elfFile([
      { address: 0x10000000, bytes: [1, 2] },
      { address: 0x20000000, bytes: [3] },
      { address: 0x10000100, bytes: [4, 5, 6] },
      { type: 4, address: 0x10002000, bytes: [7] },
    ]),
  );
  assert.deepEqual(
    segments.map(({ offset, bytes }) => [offset, [...bytes]]),
    [
      [0, [1, 2]],
      [0x100, [4, 5, 6]],
    ],
  );
});

test('symbols are found by name', () => {
  const { symbols } = read(elfFile([{ address: 0x10000000, bytes: [1] }]));
  assert.deepEqual([...symbols], [['_SEGGER_RTT', 0x20000400]]);
});

test('a file that is no ARM ELF, or holds nothing for flash, is refused', () => {
  const foreign = elfFile([{ address: 0x10000000, bytes: [1] }]);
  foreign.writeUInt16LE(62, 18);
  assert.throws(() => read(foreign), /not a 32-bit little-endian ARM ELF/);
  assert.throws(() => read(Buffer.from('hello')), /not a 32-bit little-endian ARM ELF/);
  assert.throws(() => read(elfFile([{ address: 0x20000000, bytes: [1] }])), /nothing that is loaded into flash/);
});
