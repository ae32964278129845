// Writes every page at three widths, light and dark: `npm run screenshots -- FOLDER`.
import { mkdirSync } from 'node:fs';
import path from 'node:path';
import { Demo } from './places.mjs';
import { LIGHTS, SCREENS, closeBrowser, openContext } from './browser.mjs';

const folder = process.argv[2];
if (!folder) {
  console.error('npm run screenshots -- FOLDER');
  process.exit(2);
}
mkdirSync(folder, { recursive: true });
const demo = await Demo.make();
try {
  const places = [...(await demo.pages()).map(({ name, studio, at }) => ({ name, url: studio.address + at })), ...demo.papers.map(({ name, file }) => ({ name, url: `file://${file}` }))];
  for (const [width, viewport] of Object.entries(SCREENS)) {
    for (const colorScheme of LIGHTS) {
      const context = await openContext({ viewport, colorScheme });
      const page = await context.newPage();
      for (const { name, url } of places) {
        await page.goto(url);
        await page.screenshot({ path: path.join(folder, `${name}-${width}-${colorScheme}.png`), fullPage: true });
      }
      await context.close();
    }
  }
  console.log(`${places.length * 6} screenshots in ${folder}`);
} finally {
  await demo.clear();
  await closeBrowser();
}
