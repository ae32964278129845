// A browser page that is watched until the test ends: a dialog, an error in the console (a broken content security policy is one), an
// error of a script, or a request to anywhere but the program fails the test.
import assert from 'node:assert/strict';
import { after } from 'node:test';
import { SCREENS, closeBrowser, openContext } from './browser.mjs';

after(closeBrowser);

/** Opens the program's page in a browser. Everything in `options` is the browser's: JavaScript, size, colours. */
export async function visit(t, studio, { at = '', refusals = false, ...options } = {}) {
  const context = await openContext({ viewport: SCREENS[360], ...options });
  const page = await context.newPage();
  const wrong = [];
  page.on('dialog', (dialog) => {
    wrong.push(`dialog: ${dialog.message()}`);
    dialog.dismiss().catch(() => {});
  });
  page.on('pageerror', (error) => wrong.push(`script: ${error}`));
  page.on('console', (message) => {
    // The browser reports the status of a refusal, and of a program that is gone, as an error of its own.
    const isStatus = message.text().startsWith('Failed to load resource');
    if (message.type() === 'error' && !(refusals && isStatus)) wrong.push(`console: ${message.text()}`);
  });
  page.on('request', (request) => {
    if (studio.address && !request.url().startsWith(studio.address)) wrong.push(`request: ${request.url()}`);
  });
  page.setDefaultTimeout(15_000);
  const close = () => context.close();
  (studio.endings ?? []).push(close);
  t.after(async () => {
    await close();
    assert.deepEqual(wrong, []);
  });
  if (studio.address) await page.goto(studio.address + at);
  return page;
}

/** Opens a file of the command line as a page; nothing may be loaded from anywhere. */
export async function visitFile(t, file, options) {
  const page = await visit(t, {}, options);
  page.on('request', (request) => assert.ok(request.url().startsWith('file:'), request.url()));
  await page.goto(`file://${file}`);
  return page;
}

/** What the page says was done last. */
export const said = (page) => page.locator('#said').innerText();

/** Taps, and waits until the page says `words`. */
export async function tap(page, what, words) {
  await page.locator(what).click();
  await page.locator('#said', { hasText: words }).waitFor();
}
