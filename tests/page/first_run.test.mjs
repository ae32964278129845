import assert from 'node:assert/strict';
import test from 'node:test';
import { Studio } from './studio.mjs';
import { said, tap, visit } from './visit.mjs';

test('a maker without a board answers six questions, and Now is theirs', async (t) => {
  const studio = Studio.for(t);
  await studio.open();
  const page = await visit(t, studio);
  assert.equal(await page.locator('h1').innerText(), 'Welcome');
  await page.getByLabel('What do you call your machine?').fill('Blue handle');
  await page.getByLabel('Loops').check();
  await page.getByLabel('Mine for a while').check();
  await page.getByLabel('Which rug is on the frame?').fill('Fox');
  await page.getByLabel('How large is it?').fill('80x120cm');
  await tap(page, '#first', 'Blue handle is entered');

  assert.match(await page.locator('h1').innerText(), /^Fox/);
  assert.match(await page.locator('.who').innerText(), /^Blue handle/);
  assert.ok(await page.locator('#begin').isVisible(), 'without a board the time at the frame is begun by a tap');
  assert.equal(await page.locator('#live').count(), 0);
  const machine = await studio.machine();
  assert.deepEqual([machine.machine_name, machine.is_without_logger, machine.rugs.map((rug) => rug.rug)], ['Blue handle', true, ['Fox']]);
});

test('a maker with a board does the same, and waits for it without a word of stopped or safe', async (t) => {
  const studio = Studio.for(t);
  await studio.open();
  const page = await visit(t, studio);
  await page.getByLabel('What do you call your machine?').fill('Red handle');
  await page.getByLabel('Yes: it counts by itself').check();
  await page.getByLabel('New', { exact: true }).check();
  await tap(page, '#first', 'Red handle is entered');

  assert.equal(await page.locator('h1').innerText(), 'No rug is on the frame');
  assert.equal(await page.locator('#begin').count(), 0);
  assert.ok(await page.locator('#live').isHidden(), 'no board is plugged in');
  assert.doesNotMatch(await page.locator('body').innerText(), /\b(stopped|safe)\b/i);
  const machine = await studio.machine();
  assert.deepEqual([machine.machine_name, machine.is_without_logger, machine.rugs], ['Red handle', false, []]);
});

test('what cannot be is refused in words, nothing is kept, and it is corrected where that is told, with all other answers', async (t) => {
  const studio = Studio.for(t);
  await studio.open();
  const page = await visit(t, studio, { refusals: true });
  await page.getByLabel('What do you call your machine?').fill('Blue handle');
  await page.getByLabel('Yes: it counts by itself').check();
  await page.getByLabel('Which rug is on the frame?').fill('Fox');
  await page.getByLabel('How large is it?').fill('as large as a door');
  await page.locator('#first').click();
  await page.getByRole('heading', { name: 'Not saved' }).waitFor();
  assert.match(await page.locator('.refused').innerText(), /as large as a door/);
  assert.equal(await page.evaluate(() => document.activeElement.innerText), 'Not saved', 'a screen reader is led to it');
  assert.equal(await said(page), '');
  assert.deepEqual((await studio.told()).machines, []);
  await page.getByLabel('Its size').fill('80x120cm');
  await tap(page, 'button.tap:has-text("Tap again")', 'Blue handle is entered');
  const machine = await studio.machine();
  assert.deepEqual([machine.machine_name, machine.is_without_logger, machine.rugs.map((rug) => rug.rug)], ['Blue handle', false, ['Fox']]);
});
