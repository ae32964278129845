// Every page of the demo's studios and of an empty database, by a name: what is judged, and what is on the screenshots.
import { readdirSync } from 'node:fs';
import path from 'node:path';
import { Studio } from './studio.mjs';

/** The demo's three months, made once by whoever calls first. */
export class Demo {
  static async make() {
    const demo = new Demo();
    demo.board = new Studio();
    await demo.board.program('demo', '--dir', 'demo');
    demo.folder = path.join(demo.board.folder, 'demo');
    demo.board.database = demo.databaseWith(/^demo\.db$/);
    demo.notebook = new Studio();
    demo.notebook.database = demo.databaseWith(/without-board\.db$/);
    demo.empty = new Studio();
    await Promise.all(demo.studios.map((studio) => studio.open()));
    return demo;
  }

  get studios() {
    return [this.board, this.notebook, this.empty];
  }

  databaseWith(name) {
    return path.join(this.folder, readdirSync(this.folder).find((file) => name.test(file)));
  }

  /** Pages that the demo wrote to print: sheet, card, quote, record book, week card. */
  get papers() {
    const files = readdirSync(this.folder).filter((file) => file.endsWith('.html'));
    return files.map((file) => ({ name: `file-${file.replace('.html', '')}`, file: path.join(this.folder, file) }));
  }

  /** Every page: its name, its studio, its address. */
  async pages() {
    const [rug] = (await this.board.told('rug', 'list')).rugs.map((it) => it.rug).reverse();
    const [hers] = (await this.notebook.told('rug', 'list')).rugs.map((it) => it.rug).reverse();
    const [day] = (await this.board.machine()).to_answer;
    const of = (studio, pages) => Object.entries(pages).map(([name, at]) => ({ name, studio, at }));
    return [
      ...of(this.board, {
        now: '', machine: 'machine', who: 'who?machine=1', care: 'care', 'steps-cautions': 'care/steps?machine=1&task=oiling', 'steps-one': 'care/steps?machine=1&task=oiling&step=1',
        'steps-end': 'care/steps?machine=1&task=oiling&step=99', cloth: 'cloth', rugs: 'rugs', 'rugs-quote': 'rugs?size=80x120cm', 'rugs-next': 'rugs/next?machine=1',
        'quote-paper': 'rugs/quote?size=80x120cm', rug: `rug?name=${encodeURIComponent(rug)}`, sheet: `rug/sheet?name=${encodeURIComponent(rug)}`,
        card: `rug/card?name=${encodeURIComponent(rug)}`, heavy: 'heavy', book: 'book', 'book-machine': 'book/machine?machine=1', settings: 'settings', pair: 'pair',
        refused: 'rug?name=nobody', ...(day ? { day: `day?machine=1&day=${encodeURIComponent('x')}` } : {}),
      }),
      ...of(this.notebook, { 'notebook-now': '', 'notebook-care': 'care', 'notebook-cloth': 'cloth', 'notebook-rug': `rug?name=${encodeURIComponent(hers)}`, 'notebook-heavy': 'heavy' }),
      ...of(this.empty, { 'empty-now': '', 'empty-care': 'care', 'empty-cloth': 'cloth', 'empty-rugs': 'rugs', 'empty-machine': 'machine', 'empty-heavy': 'heavy', 'empty-book': 'book' }),
    ];
  }

  async clear() {
    await Promise.all(this.studios.map((studio) => studio.clear()));
  }
}
