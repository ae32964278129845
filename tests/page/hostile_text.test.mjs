import assert from 'node:assert/strict';
import test from 'node:test';
import { Studio } from './studio.mjs';
import { visit } from './visit.mjs';

const TEXTS = {
  markup: '<script>alert(1)</script><img src=x onerror=alert(2)>',
  quotes: `"><b onclick='alert(3)'>it's "quoted" & \`so\` \\`,
  template: '{{7*7}}${7*7}<%= 7*7 %>',
  rightToLeft: '\u202Eneerg\u202C שטיח سجادة',
  emoji: '🦊👩‍👩‍👧‍👦🧶\u0000\u0007',
  address: '?machine=1&name=a#b/../..%2F%00',
  wide: 'W'.repeat(60),
  long: 'x'.repeat(10_000),
};
/** Pages on which a name that was entered may stand. */
const PAGES = ['', 'rugs', 'rugs/next', 'cloth', 'machine', 'book', 'who'];

/** Sends a form as the browser would, whatever its fields allow. */
async function send(page, form, fields) {
  await page.locator(form).evaluate((form, fields) => {
    for (const [name, value] of Object.entries(fields)) {
      const field = form.elements[name];
      field.removeAttribute('maxlength');
      field.value = value;
    }
    form.noValidate = true;
    form.requestSubmit();
  }, fields);
  await page.locator('#said', { hasText: /Saved:|Not saved/ }).or(page.getByRole('heading', { name: 'Not saved' })).first().waitFor();
  return (await page.getByRole('heading', { name: 'Not saved' }).count()) === 0 && !(await page.locator('#said').innerText()).startsWith('Not saved');
}

/** Nothing of a text has become markup, and nothing has left its place. */
async function isShownAsText(page) {
  assert.equal(await page.locator('main script, main img[onerror], main b[onclick], main [onclick]').count(), 0);
  assert.equal((await page.locator('body').innerText()).includes('49'), false, 'nothing is worked out');
}

for (const [kind, text] of Object.entries(TEXTS)) {
  test(`${kind}: as the name of a machine, a rug and a person it is shown as text or refused in words`, async (t) => {
    const studio = Studio.for(t);
    await studio.open();
    const page = await visit(t, studio, { refusals: true });
    if (!(await send(page, 'form.fields', { name: text, rug: text }))) {
      assert.ok((await page.locator('main').innerText()).length < 5_000, 'a refusal is short');
      assert.deepEqual((await studio.told()).machines, [], 'nothing of it was kept');
      await page.goto(studio.address);
      await send(page, 'form.fields', { name: 'Blue handle' });
    } else {
      const { machine_name: name } = await studio.machine();
      // What would turn the writing of the words around it is shown as a mark.
      const shown = name.replaceAll(/[\u202a-\u202e]/g, '\ufffd');
      assert.ok((await page.locator('.who').innerText()).includes(shown), `${name} is shown letter by letter`);
    }
    for (const [at, form, field] of [['rugs/next?machine=1', 'form.fields', 'new'], ['who?machine=1', 'form.fields', 'new']]) {
      await page.goto(studio.address + at);
      await send(page, form, { [field]: `${text} again` });
      await isShownAsText(page);
    }
    for (const at of PAGES) {
      await page.goto(studio.address + at);
      await isShownAsText(page);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      assert.ok(wide <= 0, `/${at} is ${wide} px too wide`);
    }
    await page.goto(`${studio.address}rugs`);
    const rugs = await page.locator('a.name').evaluateAll((all) => all.map((it) => it.href));
    for (const rug of rugs) {
      assert.equal((await page.goto(rug)).status(), 200, 'its link leads to it');
      const papers = await page.locator('a.name').evaluateAll((all) => all.map((it) => it.href));
      assert.equal(papers.length, 2);
      for (const paper of papers) {
        assert.equal((await page.goto(paper)).status(), 200);
        assert.equal(await page.locator('script, img[onerror], [onclick]').count(), 0);
      }
      await page.goto(rug);
      const change = page.locator('button[name=becomes]').first();
      if ((await change.count()) > 0) {
        await change.click();
        await page.locator('#said', { hasText: 'Saved:' }).waitFor();
      }
    }
    await studio.needlehours('verify');
  });
}

test('in every other field, in addresses and in the back of a form it is refused in words', async (t) => {
  const studio = await Studio.withoutBoard(t);
  await studio.open();
  const page = await visit(t, studio, { refusals: true });
  for (const text of Object.values(TEXTS)) {
    for (const at of ['rugs?size=', 'rug?name=', '?machine=', 'care/steps?task=', 'care/steps?task=oil&step=', 'day?day=']) {
      const answer = await page.goto(studio.address + at + encodeURIComponent(text));
      assert.ok(answer.status() < 500, `${at}: ${answer.status()}`);
      assert.equal(await page.locator('main script, main img[onerror], main [onclick]').count(), 0);
      assert.ok((await page.locator('main').innerText()).length > 20, 'it says why');
    }
    await page.goto(studio.address);
    const hidden = Object.fromEntries(await page.locator('form.taps').evaluate((it) => [...new FormData(it)]));
    for (const [to, fields] of Object.entries({
      'tap/tear': { back: text }, 'tap/near': { machine: text }, 'tap/felt': { id: text, felt: text }, 'tap/done': { task: text, finding: text },
      'tap/work': { rug: text, becomes: 'finish' }, 'tap/right': { day: text }, 'tap/who': { who: text }, 'tap/press': { task: text, at: text },
      'tap/accept': { task: text, hours: text }, 'tap/back': { entry: text }, 'tap/next': { rug: text, size: text },
    })) {
      const form = { ...hidden, number: String(Math.floor(Math.random() * 1e9)), ...fields };
      const answer = await page.request.post(studio.address + to, { form, headers: { origin: studio.address.slice(0, -1) }, maxRedirects: 0 });
      assert.ok(answer.status() < 500, `${to}: ${answer.status()} ${await answer.text()}`);
      const location = answer.headers().location ?? '/';
      assert.match(location, /^\/(?!\/)/, 'nobody is led elsewhere');
    }
  }
  await studio.needlehours('verify');
});
