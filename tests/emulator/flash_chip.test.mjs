import assert from 'node:assert/strict';
import test from 'node:test';
import { FlashChip, PAGE_BYTES, SECTOR_BYTES, TYPICAL_TIMES } from './flash_chip.mjs';
import { seededRandom } from './random.mjs';

const SIZE = 4 * SECTOR_BYTES;
const toTheEnd = () => ({ done: 1, stops: false });
const cutAt = (share) => () => ({ done: share, stops: true });

const chip = (seed = 1) => new FlashChip({ random: seededRandom(seed), sizeBytes: SIZE });
const page = (byte) => new Uint8Array(PAGE_BYTES).fill(byte);

/** A chip whose second sector holds a known pattern, after its erase was cut at `share`. */
function afterCutErase(seed, share) {
  const flash = chip(seed);
  for (let at = 0; at < SECTOR_BYTES; at += PAGE_BYTES) flash.program(SECTOR_BYTES + at, page(0xa5), toTheEnd);
  flash.erase(SECTOR_BYTES, SECTOR_BYTES, cutAt(share));
  return flash;
}

test('a new chip is erased', () => {
  assert.ok(chip().image.every((byte) => byte === 0xff));
});

test('programming only clears bits', () => {
  const flash = chip();
  flash.program(0, page(0b1111_0000), toTheEnd);
  flash.program(0, page(0b1010_1010), toTheEnd);
  assert.ok(flash.image.subarray(0, PAGE_BYTES).every((byte) => byte === 0b1010_0000));
  assert.equal(flash.image[PAGE_BYTES], 0xff);
});

test('erasing sets every bit of its sector and none of its neighbours', () => {
  const flash = chip();
  for (const at of [SECTOR_BYTES - PAGE_BYTES, SECTOR_BYTES, 2 * SECTOR_BYTES]) flash.program(at, page(0), toTheEnd);
  flash.erase(SECTOR_BYTES, SECTOR_BYTES, toTheEnd);
  assert.deepEqual(
    [SECTOR_BYTES - 1, SECTOR_BYTES, 2 * SECTOR_BYTES - 1, 2 * SECTOR_BYTES].map((at) => flash.image[at]),
    [0, 0xff, 0xff, 0],
  );
});

test('a cut erase leaves neither the old sector nor a clean one, and the neighbours alone', () => {
  for (let seed = 0; seed < 30; seed++) {
    const { image } = afterCutErase(seed, 0.5);
    const sector = [...image.subarray(SECTOR_BYTES, 2 * SECTOR_BYTES)];
    assert.ok(sector.some((byte) => byte !== 0xff), `seed ${seed}: clean`);
    assert.ok(sector.some((byte) => byte !== 0xa5), `seed ${seed}: untouched`);
    assert.ok([...image.subarray(0, SECTOR_BYTES), ...image.subarray(2 * SECTOR_BYTES)].every((byte) => byte === 0xff));
  }
});

test('a cut erase can keep the front of a sector whole, and can keep its end whole', () => {
  const kept = { front: 0, end: 0 };
  for (let seed = 0; seed < 60; seed++) {
    const { image } = afterCutErase(seed, 0.25);
    if (image.subarray(SECTOR_BYTES, SECTOR_BYTES + 1024).every((byte) => byte === 0xa5)) kept.front++;
    if (image.subarray(2 * SECTOR_BYTES - 1024, 2 * SECTOR_BYTES).every((byte) => byte === 0xa5)) kept.end++;
  }
  assert.ok(kept.front > 5 && kept.end > 5, JSON.stringify(kept));
});

test('the same seed leaves the same noise, another seed another', () => {
  const noise = (seed) => Buffer.from(afterCutErase(seed, 0.5).image).toString('base64');
  assert.equal(noise(7), noise(7));
  assert.notEqual(noise(7), noise(8));
});

test('a cut program clears no bit that was not to be cleared and sets none', () => {
  for (let seed = 0; seed < 30; seed++) {
    const flash = chip(seed);
    flash.program(0, page(0b1100_1111), toTheEnd);
    flash.program(0, page(0b0101_0101), cutAt(0.5));
    const bytes = [...flash.image.subarray(0, PAGE_BYTES)];
    assert.ok(bytes.every((byte) => (byte & 0b0100_0101) === 0b0100_0101), `seed ${seed}: a bit too many cleared`);
    assert.ok(bytes.every((byte) => (byte & 0b0011_0000) === 0), `seed ${seed}: a bit set`);
    assert.ok(bytes.some((byte) => byte !== 0b0100_0101), `seed ${seed}: finished`);
  }
});

test('nothing follows after a cut or a reset: later sectors and pages stay as they were', () => {
  for (const stopping of [cutAt(0.5), () => ({ done: 1, stops: true })]) {
    const flash = chip();
    flash.program(2 * SECTOR_BYTES, page(0), toTheEnd);
    flash.erase(SECTOR_BYTES, 2 * SECTOR_BYTES, stopping);
    assert.equal(flash.image[2 * SECTOR_BYTES], 0);
    flash.program(0, new Uint8Array(2 * PAGE_BYTES), stopping);
    assert.equal(flash.image[PAGE_BYTES], 0xff);
  }
});

test('a reset in an erase does not stop the chip: that sector comes out clean', () => {
  const flash = chip();
  flash.program(0, page(0), toTheEnd);
  flash.erase(0, SECTOR_BYTES, () => ({ done: 1, stops: true }));
  assert.ok(flash.image.every((byte) => byte === 0xff));
});

test('each sector and each page takes its time and is counted', () => {
  const flash = chip();
  const waits = [];
  const busy = (ns) => {
    waits.push(ns);
    return { done: 1, stops: false };
  };
  flash.erase(0, 2 * SECTOR_BYTES, busy);
  flash.program(0, new Uint8Array(3 * PAGE_BYTES), busy);
  const { sectorEraseNs: erase, pageProgramNs: program } = TYPICAL_TIMES;
  assert.deepEqual(waits, [erase, erase, program, program, program]);
  assert.deepEqual(flash.counts, { erases: 2, programs: 3, busy_ns: 2 * erase + 3 * program, cut_erases: 0, cut_programs: 0 });
});

test('an operation off the chip or off its grid is refused', () => {
  const flash = chip();
  assert.throws(() => flash.erase(SIZE, SECTOR_BYTES, toTheEnd), /off the chip/);
  assert.throws(() => flash.erase(256, SECTOR_BYTES, toTheEnd), /not in units/);
  assert.throws(() => flash.program(0, new Uint8Array(100), toTheEnd), /not in units/);
});

test('installing an image erases the sectors that it touches and leaves the others', () => {
  const flash = chip();
  for (const at of [0, SECTOR_BYTES, 2 * SECTOR_BYTES]) flash.program(at, page(0), toTheEnd);
  flash.install([
    { offset: SECTOR_BYTES + 256, bytes: Uint8Array.of(1) },
    { offset: SECTOR_BYTES + 300, bytes: Uint8Array.of(2) },
  ]);
  assert.deepEqual(
    [0, SECTOR_BYTES, SECTOR_BYTES + 256, SECTOR_BYTES + 300, 2 * SECTOR_BYTES].map((at) => flash.image[at]),
    [0, 0xff, 1, 2, 0],
  );
});

test('an image of the wrong size is not taken for the whole chip', () => {
  assert.throws(() => chip().setImage(new Uint8Array(100)), /16384 bytes, not 100/);
});

test('the unique id follows four dummy bytes, the JEDEC id none (W25Q16JV data sheet, 8.2.31 and 8.2.33)', () => {
  const flash = new FlashChip({ random: seededRandom(1), uniqueId: '0123456789abcdef', jedecId: 'ef7015' });
  assert.deepEqual(flash.answer([0x4b]).slice(4), [0x01, 0x23, 0x45, 0x67, 0x89, 0xab, 0xcd, 0xef]);
  assert.deepEqual(flash.answer([0x9f]), [0xef, 0x70, 0x15]);
});
