import assert from 'node:assert/strict';
import test from 'node:test';
import { Studio, pause, until } from './studio.mjs';
import { said, tap, visit } from './visit.mjs';

test('two browsers at once and the command line beside them: every act counts once', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const [one, other] = await Promise.all([visit(t, studio), visit(t, studio, { viewport: { width: 1280, height: 800 } })]);
  const EACH = 6;
  const taps = async (page, what, words) => {
    for (let i = 0; i < EACH; i++) {
      const answered = page.waitForResponse((answer) => answer.request().method() === 'POST');
      await page.locator(what).click();
      assert.equal((await answered).status(), 303, words);
      await page.locator('#said', { hasText: 'Saved:' }).waitFor();
    }
  };
  const commands = async () => {
    for (let i = 0; i < EACH; i++) await studio.needlehours('tear', '--near-miss');
  };
  await Promise.all([taps(one, '#tear', 'A tear'), taps(other, '#near', 'Nearly torn'), commands()]);
  assert.deepEqual(await studio.harms(), { tears: EACH, near: 2 * EACH });
  await studio.needlehours('verify');

  await tap(one, '#tightened', 'The cloth was tightened');
  await until(async () => (await said(other)).includes('The cloth was tightened'), 'the other browser to see it');
});

test('the program is killed in the middle of a tap: nothing is half kept, and the page says so', async (t) => {
  const studio = await Studio.withoutBoard(t);
  const page = await (await studio.open(), visit(t, studio, { refusals: true }));
  let [kept, notSaved] = [0, 0];
  for (let delay = 0; delay < 30; delay += 5) {
    const before = (await studio.harms()).tears;
    await page.locator('#tear').click();
    await pause(delay);
    await studio.end('SIGKILL');
    await page.locator('#said', { hasText: /Saved: A tear|Not saved, tap again/ }).waitFor();
    const isSaved = (await said(page)).startsWith('Saved');
    await studio.needlehours('verify');
    const after = (await studio.harms()).tears;
    assert.ok(isSaved ? after === before + 1 : after - before <= 1, `${before} tears before, ${after} after; saved: ${isSaved}`);
    if (after > before) kept++;
    if (!isSaved) notSaved++;
    await studio.open();
    await page.goto(studio.address);
  }
  t.diagnostic(`${kept} of 6 were kept, of ${notSaved} the page could not tell`);

  await studio.end('SIGKILL');
  await page.locator('#near').click();
  await page.locator('#said', { hasText: 'Not saved, tap again' }).waitFor();
  assert.equal((await studio.harms()).near, 0);
  await studio.open();
  await page.locator('#near').click();
  await page.getByRole('heading', { name: 'Not saved' }).waitFor();
  assert.match(await page.locator('main').innerText(), /before the page was started again/);
  assert.equal((await studio.harms()).near, 0, 'a form of the run before is not taken');
});

test('an act of several entries is kept whole or not at all when the program is killed', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio, { refusals: true });
  let name = 'Fox';
  for (let i = 0; i < 5; i++) {
    await page.goto(`${studio.address}rugs/next?machine=1`);
    await page.getByLabel('Or a new one').fill(`Rug ${i}`);
    await page.locator('#begin-rug').click();
    await pause(4 * i);
    await studio.end('SIGKILL');
    await studio.needlehours('verify');
    const state = Object.fromEntries((await studio.told('rug', 'list')).rugs.map((rug) => [rug.rug, rug.state]));
    const isThere = `Rug ${i}` in state;
    assert.equal(state[name], isThere ? 'finished' : 'on_the_frame', JSON.stringify(state));
    if (isThere) assert.equal(state[`Rug ${i}`], 'on_the_frame', JSON.stringify(state));
    if (isThere) name = `Rug ${i}`;
    await studio.open();
  }
});

test('a hundred requests at once are all answered', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio);
  const hidden = Object.fromEntries(await page.locator('form.taps').evaluate((it) => [...new FormData(it)]));
  const reading = ['', 'care', 'rugs', 'cloth', 'machine', 'heavy', 'rug/sheet?name=Fox', 'page.css', 'page.js'];
  const begun = Date.now();
  const answers = await Promise.all(
    Array.from({ length: 100 }, async (_, i) => {
      if (i % 10 !== 0) return fetch(studio.address + reading[i % reading.length]);
      const body = new URLSearchParams({ ...hidden, number: String(1_000 + i) });
      return fetch(`${studio.address}tap/near`, { method: 'POST', body, headers: { origin: studio.address.slice(0, -1) } });
    }),
  );
  for (const answer of answers) {
    assert.equal(answer.status, 200, answer.url);
    assert.ok((await answer.text()).length > 0);
  }
  t.diagnostic(`${Date.now() - begun} ms`);
  assert.deepEqual(await studio.harms(), { tears: 0, near: 10 });
  assert.equal(await studio.end(), 0, 'Ctrl-C ends it');
});
