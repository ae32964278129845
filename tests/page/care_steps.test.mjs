import assert from 'node:assert/strict';
import test from 'node:test';
import { Studio } from './studio.mjs';
import { tap, visit } from './visit.mjs';

const oilings = async (studio) => (await studio.told('done', '--history')).entries.filter((entry) => JSON.stringify(entry).includes('"oiling"'));

for (const javaScriptEnabled of [true, false]) {
  test(`oiling is walked through, cautions first, and noted once at its end${javaScriptEnabled ? '' : '; JavaScript off'}`, async (t) => {
    const studio = await Studio.withoutBoard(t);
    const before = (await oilings(studio)).length;
    await studio.open();
    const page = await visit(t, studio, { javaScriptEnabled, at: 'care/steps?machine=1&task=oiling' });
    assert.match(await page.locator('main').innerText(), /unplug/i);
    assert.doesNotMatch(await page.locator('h1').innerText(), /step/, 'the cautions stand before the first step');

    const screens = [await page.locator('.step').innerText()];
    for (;;) {
      await page.locator('#step-done').click();
      await page.waitForLoadState();
      if ((await page.locator('#note-done').count()) > 0) break;
      assert.match(await page.locator('h1').innerText(), new RegExp(`step ${screens.length} of \\d+$`));
      assert.equal(await page.locator('.step').count(), 1, 'one step a screen');
      screens.push(await page.locator('.step').innerText());
    }
    assert.ok(screens.length >= 4, screens.join('\n'));
    assert.ok(screens.every((words, i) => words !== screens[i + 1]), screens.join('\n'));
    assert.equal((await oilings(studio)).length, before, 'nothing is noted on the way');

    await tap(page, '#note-done', 'Oiling done');
    assert.equal((await oilings(studio)).length, before + 1);
    await page.goBack();
    await page.reload();
    assert.equal((await oilings(studio)).length, before + 1, 'going back notes nothing');
  });
}
