// Debian's Chromium, driven.
import { accessSync, constants } from 'node:fs';
import path from 'node:path';
import { chromium } from 'playwright-core';

/** Widths that are looked at, each with its height: a phone, a tablet, a desk. */
export const SCREENS = { 360: { width: 360, height: 740 }, 768: { width: 768, height: 1024 }, 1280: { width: 1280, height: 800 } };
export const LIGHTS = ['light', 'dark'];

function browserPath() {
  const named = process.env.CHROMIUM;
  const places = named ? [named] : (process.env.PATH ?? '').split(path.delimiter).map((folder) => path.join(folder, 'chromium'));
  const found = places.find((place) => {
    try {
      accessSync(place, constants.X_OK);
      return true;
    } catch {
      return false;
    }
  });
  if (found) return found;
  const where = named ? `at ${named} (CHROMIUM)` : 'on PATH';
  throw new Error(`there is no Chromium ${where}: install it (Debian: apt-get install chromium), or name it in CHROMIUM`);
}

let started;
/** The browser; one a process. */
function browser() {
  started ??= chromium.launch({ executablePath: browserPath() });
  return started;
}
/** Ends the browser. */
export const closeBrowser = async () => (await started)?.close();

/** A browser of its own: no cookies, nothing kept. */
export const openContext = async (options) => (await browser()).newContext(options);
