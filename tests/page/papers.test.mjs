import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import path from 'node:path';
import test from 'node:test';
import { Studio } from './studio.mjs';
import { tap, visit } from './visit.mjs';

/** The text of a PDF, where the system has a program that tells it. */
function textOf(file) {
  try {
    return execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8' });
  } catch (error) {
    if (error.code === 'ENOENT') return null;
    throw error;
  }
}

async function printed(page, studio) {
  const pdf = await page.pdf({ format: 'A4' });
  assert.ok(pdf.subarray(0, 5).equals(Buffer.from('%PDF-')));
  assert.ok(pdf.length > 8_000, `${pdf.length} bytes`);
  const file = path.join(studio.folder, 'printed.pdf');
  writeFileSync(file, pdf);
  return { pages: pdf.toString('latin1').match(/\/Type\s*\/Page\b/g)?.length ?? 0, text: textOf(file) };
}

test('a rug is finished, and its sheet and its card are printed', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio, { at: 'rugs' });
  await page.locator('a.name', { hasText: 'Fox' }).click();
  await tap(page, 'button[value=finish]', 'Fox is finished');
  assert.match(await page.locator('main').innerText(), /It is finished/);

  await page.getByRole('link', { name: 'The sheet' }).click();
  await page.getByRole('heading', { name: /Fox/ }).first().waitFor();
  const sheet = await printed(page, studio);
  assert.ok(sheet.pages >= 1 && sheet.pages <= 3, `${sheet.pages} pages`);
  if (sheet.text !== null) assert.match(sheet.text, /Fox[\s\S]*2 h/);

  await page.goto(`${studio.address}rug/card?name=Fox`);
  const card = await printed(page, studio);
  assert.equal(card.pages, 1);
  if (card.text !== null) {
    assert.match(card.text, /Fox/);
    assert.doesNotMatch(card.text, /2 h\b/, 'the card tells no hours');
  }
});

test('Now prints on one page, without its buttons', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio);
  const now = await printed(page, studio);
  assert.equal(now.pages, 1);
  if (now.text !== null) {
    assert.match(now.text, /Fox/);
    assert.doesNotMatch(now.text, /Nearly torn|Undo/);
  }
});
