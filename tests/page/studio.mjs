// A maker's folder and the program over it.
import assert from 'node:assert/strict';
import { execFile, spawn } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';

const run = promisify(execFile);

/** A program that was built, or the one that a variable names. @throws when it is not there */
export function programAt(variable, name, how) {
  const place = path.resolve(process.env[variable] ?? fileURLToPath(new URL(`../../target/debug/${name}`, import.meta.url)));
  if (!existsSync(place)) throw new Error(`there is no program at ${place}: run \`${how}\`, or name it in ${variable}`);
  return place;
}

const PROGRAM = programAt('NEEDLEHOURS', 'needlehours', 'cargo build -p host');

export const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/** Waits until `is` gives something true, and gives it back. */
export async function until(is, what, ms = 20_000) {
  for (const end = Date.now() + ms; Date.now() < end; await pause(50)) {
    const found = await is();
    if (found) return found;
  }
  throw new Error(`waited in vain for ${what}`);
}

/** Lines of a program's standard output, one a call; null at its end. */
export function linesOf(child) {
  const lines = createInterface({ input: child.stdout })[Symbol.asyncIterator]();
  return async () => (await lines.next()).value ?? null;
}

/** A folder of its own, with a database in it. */
export class Studio {
  #running = null;
  /** What ends before the program: browsers, the board. */
  endings = [];

  constructor() {
    this.folder = mkdtempSync(path.join(tmpdir(), 'needlehours-page-'));
    this.database = path.join(this.folder, 'studio.db');
    const home = (name) => {
      const folder = path.join(this.folder, name);
      mkdirSync(folder);
      return folder;
    };
    this.env = {
      PATH: process.env.PATH, TZ: 'UTC', NO_COLOR: '1',
      HOME: home('home'), XDG_DATA_HOME: home('data'), XDG_CONFIG_HOME: home('config'), XDG_CACHE_HOME: home('cache'), XDG_STATE_HOME: home('state'),
    };
  }

  /** A studio that is cleared away when the test is over. */
  static for(t) {
    const studio = new Studio();
    t.after(() => studio.clear());
    return studio;
  }

  /** A maker without a board: one rug finished, one on the frame since yesterday, two hours at it. */
  static async withoutBoard(t) {
    const studio = Studio.for(t);
    await studio.needlehours('machine', 'add', 'Blue handle', '--without-logger');
    await studio.needlehours('rug', 'new', 'Owl', '--size', '60x60cm');
    await studio.needlehours('rug', 'start', 'Owl', '--when', '3 days ago');
    await studio.needlehours('rug', 'finish', 'Owl', '--when', '2 days ago');
    await studio.needlehours('rug', 'new', 'Fox', '--size', '80x120cm');
    await studio.needlehours('rug', 'start', 'Fox', '--when', 'yesterday 08:00');
    await studio.needlehours('worked', '2h', '--when', 'yesterday 10:00');
    return studio;
  }

  async clear() {
    for (const end of this.endings) await end();
    await this.end('SIGKILL');
    rmSync(this.folder, { recursive: true, force: true, maxRetries: 3 });
  }

  /** Runs a command on the database; what it prints. @throws when it fails, with what it says */
  async needlehours(...words) {
    return this.program(...words, '--db', this.database);
  }

  /** Runs the program; what it prints. @throws when it fails, with what it says */
  async program(...words) {
    const { stdout } = await run(PROGRAM, words, { env: this.env, cwd: this.folder, maxBuffer: 1 << 26 });
    return stdout;
  }

  /** What a command answers with `--json`. */
  async told(...words) {
    return JSON.parse(await this.needlehours(...words, '--json'));
  }

  /** The first machine of the glance, as the command tells it. */
  async machine() {
    return (await this.told()).machines[0];
  }

  /** How many tears and near-misses are on record. */
  async harms() {
    const { tears, near_misses: near } = await this.told('tear', 'list');
    return { tears, near };
  }

  /** Starts the page; its address. A free port, or the one that it had before. */
  async open(...words) {
    const port = this.address ? new URL(this.address).port : '0';
    const child = spawn(PROGRAM, ['page', '--port', port, '--db', this.database, ...words], { env: this.env, cwd: this.folder });
    const ended = new Promise((resolve) => child.once('exit', resolve));
    let errors = '';
    child.stderr.setEncoding('utf8').on('data', (text) => (errors += text));
    this.#running = { child, ended };
    const first = await linesOf(child)();
    assert.match(first ?? '', /^http:\/\/127\.0\.0\.1:\d+\/$/, `the address is the first line; ${errors}`);
    child.stdout.resume();
    this.address = first;
    return first;
  }

  /** Ends the page, as Ctrl-C does unless another signal is named; its exit code. */
  async end(signal = 'SIGINT') {
    if (!this.#running) return null;
    const { child, ended } = this.#running;
    this.#running = null;
    child.kill(signal);
    return ended;
  }
}
