import assert from 'node:assert/strict';
import { after, before, test } from 'node:test';
import axe from 'axe-core';
import { Demo } from './places.mjs';
import { LIGHTS, SCREENS } from './browser.mjs';
import { tap, visit, visitFile } from './visit.mjs';

const RULES = { runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] }, resultTypes: ['violations'] };
/** What colours and widths alone can break; all else is in the document, which is the same. */
const SEEN = { runOnly: { type: 'rule', values: ['color-contrast', 'link-in-text-block', 'target-size', 'scrollable-region-focusable'] }, resultTypes: ['violations'] };

let demo;
before(async () => (demo = await Demo.make()));
after(() => demo?.clear());

/** What the engine finds on the page as it is, one line each. */
async function found(page, rules = RULES) {
  if (!(await page.evaluate(() => 'axe' in globalThis))) await page.evaluate(axe.source);
  const { violations } = await page.evaluate((rules) => globalThis.axe.run(document, rules), rules);
  return violations.flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.target} ${node.failureSummary}`));
}

async function judged(page, name, faults) {
  for (const [width, size] of Object.entries(SCREENS)) {
    await page.setViewportSize(size);
    for (const colorScheme of LIGHTS) {
      await page.emulateMedia({ colorScheme });
      const rules = width === '360' && colorScheme === 'light' ? RULES : SEEN;
      for (const fault of await found(page, rules)) faults.push(`${name} at ${width}, ${colorScheme}: ${fault}`);
    }
  }
}

test('the accessibility engine finds nothing on any page, in light and dark, at three widths', async (t) => {
  const faults = [];
  const pages = new Map();
  for (const { name, studio, at } of await demo.pages()) {
    if (!pages.has(studio)) pages.set(studio, await visit(t, studio, { bypassCSP: true, refusals: true }));
    const page = pages.get(studio);
    await page.goto(studio.address + at);
    await judged(page, name, faults);
  }
  assert.deepEqual(faults, []);
});

test('nor on the papers that the command line writes', async (t) => {
  const faults = [];
  assert.ok(demo.papers.length >= 5, `${demo.papers.length} papers`);
  for (const { name, file } of demo.papers) await judged(await visitFile(t, file, { bypassCSP: true }), name, faults);
  assert.deepEqual(faults, []);
});

test('the engine does find what is wrong', async (t) => {
  const page = await visit(t, demo.board, { bypassCSP: true });
  await page.evaluate(() => document.querySelector('main').insertAdjacentHTML('beforeend', '<button></button><img src="/mark.svg">'));
  assert.ok((await found(page)).length >= 2);
});

/** How far what is on the page reaches beyond its width. */
const tooWide = (page) => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

test('at 360 px nothing scrolls sideways, and every button is 56 px high', async (t) => {
  const faults = [];
  const pages = new Map();
  for (const { name, studio, at } of await demo.pages()) {
    if (!pages.has(studio)) pages.set(studio, await visit(t, studio, { refusals: true }));
    const page = pages.get(studio);
    await page.goto(studio.address + at);
    const wide = await tooWide(page);
    if (wide > 0) faults.push(`${name}: ${wide} px too wide`);
    const heights = await page.locator('button:visible, a.tap:visible').evaluateAll((all) => all.map((it) => [it.innerText, it.getBoundingClientRect().height]));
    for (const [words, height] of heights) if (height < 56) faults.push(`${name}: "${words}" is ${height} px high`);
  }
  for (const { name, file } of demo.papers) {
    const wide = await tooWide(await visitFile(t, file));
    if (wide > 0) faults.push(`${name}: ${wide} px too wide`);
  }
  assert.deepEqual(faults, []);
});

test('Now stands on one screen of a phone without scrolling, with its largest letters for the cloth', async (t) => {
  for (const studio of [demo.board, demo.notebook]) {
    const page = await visit(t, studio);
    const height = await page.evaluate(() => document.documentElement.scrollHeight);
    assert.ok(height <= 740, `the page is ${height} px high`);
    await tap(page, '#near', 'Nearly torn');
    const bottom = await page.evaluate(() => document.getElementById('caution').getBoundingClientRect().bottom + globalThis.scrollY);
    assert.ok(bottom <= 740, `after a tap the caution ends at ${bottom} px`);
    await tap(page, '#undo', 'Taken back');
    // In one go: the page may look anew at any moment.
    const sizes = await page.evaluate(() => [...document.querySelectorAll('main *')].map((it) => [it.id, parseFloat(getComputedStyle(it).fontSize)]));
    const largest = Math.max(...sizes.map(([, size]) => size));
    assert.equal(sizes.find(([, size]) => size === largest)[0], 'cloth-ran');
    assert.ok(largest >= 48, `${largest} px`);
  }
});

test('the first view is under 100 kB, its script under 10, and five pages are linked from it', async (t) => {
  const page = await visit(t, demo.board);
  const asked = new Set();
  page.on('request', (request) => asked.add(request.url()));
  await page.reload();
  const bytes = {};
  for (const url of asked) {
    const { pathname } = new URL(url);
    // The stream of live values never ends.
    if (pathname !== '/live') bytes[pathname] = (await (await fetch(url)).arrayBuffer()).byteLength;
  }
  const all = Object.values(bytes).reduce((sum, one) => sum + one, 0);
  assert.ok(all > 1_000 && all < 100_000, JSON.stringify(bytes));
  assert.ok(bytes['/page.js'] < 10_000, JSON.stringify(bytes));
  assert.ok((await page.locator('nav a:visible').count()) >= 5);
});

test('everything on Now is reached with the keyboard, and what has the focus is seen', async (t) => {
  const page = await visit(t, demo.notebook);
  const wanted = await page.locator('main a:visible, main button:visible, nav a:visible').count();
  const reached = new Set();
  for (let i = 0; i < wanted + 5; i++) {
    await page.keyboard.press('Tab');
    const at = await page.evaluate(() => {
      const it = document.activeElement;
      const { outlineStyle, outlineWidth } = getComputedStyle(it);
      return { words: `${it.tagName} ${it.innerText} ${it.getAttribute('href')}`, isSeen: outlineStyle !== 'none' && parseFloat(outlineWidth) >= 2 };
    });
    if (!at.words.startsWith('BODY')) assert.ok(at.isSeen, at.words);
    reached.add(at.words);
  }
  assert.ok(reached.size >= wanted, `${reached.size} of ${wanted}`);
  await page.locator('#near').focus();
  await page.keyboard.press('Enter');
  await page.locator('#said', { hasText: 'Saved: Nearly torn' }).waitFor();
  await tap(page, '#undo', 'Taken back');
});
