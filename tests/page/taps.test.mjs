import assert from 'node:assert/strict';
import test from 'node:test';
import { Studio, pause, until } from './studio.mjs';
import { said, tap, visit } from './visit.mjs';

/** "1 h 20 min" as milliseconds. */
function milliseconds(words) {
  const parts = [...words.matchAll(/(\d+) (h|min|s)\b/g)];
  assert.ok(parts.length > 0, words);
  return parts.reduce((sum, [, count, unit]) => sum + Number(count) * { h: 3_600_000, min: 60_000, s: 1_000 }[unit], 0);
}

/** The machine as the command tells it; the page says the same. */
async function asTheCommandSays(page, studio) {
  const machine = await studio.machine();
  const { cloth, rugs, end_of_day: endOfDay, timer } = machine;
  const ran = milliseconds(await page.locator('#cloth-ran').innerText());
  const told = cloth.run_time_since_at_most_ms + cloth.by_hand_run_time_ms;
  assert.ok(Math.abs(ran - told) <= 30_000, `${ran} ms on the page, ${told} ms in the command's answer`);
  const heading = await page.locator('h1').innerText();
  for (const rug of rugs) assert.ok(heading.includes(rug.rug), heading);
  assert.equal(await page.locator('#evening-care').count(), endOfDay.length > 0 ? 1 : 0);
  for (const { task } of endOfDay) assert.ok((await page.locator('#evening-care').innerText()).includes(task), task);
  assert.equal(await page.locator('#stop').count(), timer ? 1 : 0);
  return machine;
}

for (const javaScriptEnabled of [true, false]) {
  const how = javaScriptEnabled ? 'without a new page' : 'by plain forms, JavaScript off';

  test(`a day at the frame is tapped ${how}, and the page says what the command says`, async (t) => {
    const studio = await Studio.withoutBoard(t);
    await studio.open();
    const page = await visit(t, studio, { javaScriptEnabled });
    let loads = 0;
    page.on('load', () => loads++);

    await tap(page, '#begin', 'At the frame from now on');
    assert.ok((await asTheCommandSays(page, studio)).timer);
    await tap(page, '#tear', 'A tear. Unplug before you mend');
    await tap(page, '#near', 'Nearly torn');
    assert.deepEqual(await studio.harms(), { tears: 1, near: 1 });
    await tap(page, 'button[value=slack]', 'The cloth was slack');
    await tap(page, '#tightened', 'The cloth was tightened');
    assert.match(await said(page), /^Saved:/);
    await asTheCommandSays(page, studio);
    await tap(page, '#stop', 'at the frame');
    assert.equal((await asTheCommandSays(page, studio)).timer, null);

    await tap(page, '#near', 'Nearly torn');
    await tap(page, '#undo', 'Taken back: nearly torn');
    assert.deepEqual(await studio.harms(), { tears: 1, near: 1 });
    assert.equal(await page.locator('#undo').count(), 0, 'what was undone is not undone again');
    assert.equal(loads > 0, !javaScriptEnabled, 'with JavaScript no page is loaded anew');
    await studio.needlehours('verify');
  });

  test(`end-of-day care is one tap ${how}`, async (t) => {
    const studio = await Studio.withoutBoard(t);
    await studio.open();
    const page = await visit(t, studio, { javaScriptEnabled });
    await tap(page, '#begin', 'At the frame from now on');
    await tap(page, '#stop', 'at the frame');
    const asked = (await asTheCommandSays(page, studio)).end_of_day.map((task) => task.task);
    assert.ok(asked.length > 0, 'after a day at the frame');
    await tap(page, '#evening', `${asked[0][0].toUpperCase()}${asked[0].slice(1)}`);
    assert.deepEqual((await asTheCommandSays(page, studio)).end_of_day, []);
    assert.equal(await page.locator('#evening').count(), 0);
  });

  test(`who works is said with one tap ${how}`, async (t) => {
    const studio = await Studio.withoutBoard(t);
    await studio.open();
    const page = await visit(t, studio, { javaScriptEnabled });
    await page.getByRole('link', { name: 'Who works?' }).click();
    await page.getByLabel('Somebody new').fill('Mira');
    await tap(page, '#add', 'Mira works from now on');
    await page.getByRole('link', { name: 'Mira' }).click();
    await tap(page, 'button[value=unknown]', 'works from now on');
    assert.ok(await page.getByRole('link', { name: 'Who works?' }).isVisible());
  });
}

test('a day that was worked is asked about, and one tap counts it to its rug, or to another', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio);
  await tap(page, '#right', 'Counted to Fox');
  assert.deepEqual((await studio.machine()).to_answer, []);
  await tap(page, '#undo', 'Taken back: counted to Fox');
  await page.locator('#other').click();
  await tap(page, 'button[value=Owl]', 'Counted to Owl');
  assert.deepEqual((await studio.machine()).to_answer, []);
  const { rugs } = await studio.told('rug', 'list');
  assert.deepEqual(rugs.map((rug) => [rug.rug, rug.by_hand_run_time_ms > 0]), [['Owl', true], ['Fox', false]]);
});

test('a tap while the page looks anew is not lost', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio);
  let looks = 0;
  await page.route(studio.address, async (route) => {
    if (route.request().resourceType() === 'fetch') {
      looks++;
      await pause(1_500);
    }
    await route.continue().catch(() => {});
  });
  const other = await visit(t, studio);
  await tap(other, '#near', 'Nearly torn');
  await until(() => looks > 0, 'the first browser to look');
  await page.locator('#tear').click();
  await page.locator('#said', { hasText: 'Saved: A tear' }).waitFor();
  assert.deepEqual(await studio.harms(), { tears: 1, near: 1 });
});

test('a tap that comes twice counts once', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio);
  await page.locator('#tear').dblclick();
  await page.locator('#said', { hasText: 'A tear' }).waitFor();
  const form = Object.fromEntries(await page.locator('form.taps').evaluate((it) => [...new FormData(it)]));
  for (let i = 0; i < 3; i++) {
    const answer = await page.request.post(`${studio.address}tap/near`, { form, headers: { origin: studio.address.slice(0, -1) } });
    assert.equal(answer.status(), 200);
  }
  assert.deepEqual(await studio.harms(), { tears: 1, near: 1 });
});
