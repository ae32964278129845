import assert from 'node:assert/strict';
import test from 'node:test';
import { Board } from './board.mjs';
import { Studio, until } from './studio.mjs';
import { tap, visit } from './visit.mjs';

const BUTTONS = ['#tear', '#near', '#tightened'];

test('the board is plugged in, a session is run, and a tear held on its button is answered on the page', async (t) => {
  const studio = Studio.for(t);
  await studio.needlehours('machine', 'add', 'Blue handle');
  await studio.needlehours('rug', 'new', 'Fox', '--size', '80x120cm');
  await studio.needlehours('rug', 'start', 'Fox');
  const board = await Board.plug(studio);
  await studio.open('--board', board.port);
  const page = await visit(t, studio);
  await page.locator('#rate', { hasText: 'no strokes counted' }).waitFor();
  const unquiet = [];
  await page.exposeFunction('heard', (text) => unquiet.push(text));
  await page.evaluate(() => {
    const look = () => {
      const words = document.body.innerText;
      if (/\b(stopped|safe)\b/i.test(words)) globalThis.heard(words);
    };
    new MutationObserver(look).observe(document.body, { subtree: true, childList: true, characterData: true, attributes: true });
  });
  for (const button of BUTTONS) assert.ok(await page.locator(button).isEnabled());

  assert.equal(await board.tell('needle 60 10'), 'begun');
  await page.locator('#rate', { hasText: /strokes a second/ }).waitFor();
  for (const button of BUTTONS) assert.ok(await page.locator(button).isDisabled(), `${button} while strokes come in`);
  assert.equal(await page.locator('#hands').innerText(), 'Let go of the trigger. Put the machine down. Then tap.');
  await page.locator('#rate', { hasText: 'no strokes counted' }).waitFor();
  const still = Date.now();
  for (const button of BUTTONS) assert.ok(await page.locator(button).isDisabled(), `${button} right after the last stroke`);
  await page.locator('#tear:enabled').waitFor();
  t.diagnostic(`${Date.now() - still} ms from the first quiet look to the buttons`);
  assert.ok(await page.locator('#hands').isHidden());

  assert.equal(await board.tell('hold cloth 1000'), 'begun');
  await page.locator('#tear-asked').waitFor({ timeout: 30_000 });
  assert.match(await page.locator('#tear-asked').innerText(), /how was the cloth\? Unplug before you mend/);
  assert.deepEqual(await studio.harms(), { tears: 1, near: 0 });
  await tap(page, 'button[value=slack]', 'The cloth was slack');
  const [harm] = (await studio.told('tear', 'list')).harms;
  assert.match(JSON.stringify(harm), /slack/);

  assert.equal(await board.tell('unplug'), 'unplugged');
  await page.locator('#live').waitFor({ state: 'hidden' });
  assert.ok(await page.locator('#tear').isEnabled(), 'without a board the buttons can be tapped');
  assert.equal(await board.tell('plug'), 'plugged in');
  await page.locator('#live').waitFor({ state: 'visible' });
  const hours = await studio.told('hours');
  await until(async () => JSON.stringify(await studio.told('hours')).includes('"edges":60'), `the 60 strokes on record: ${JSON.stringify(hours)}`);
  assert.deepEqual(unquiet, []);
});
