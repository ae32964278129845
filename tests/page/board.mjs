// The emulated board, plugged in: `tests/src/bin/plugged_board.rs`, which has the pseudo-terminal.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import path from 'node:path';
import { programAt, linesOf } from './studio.mjs';

const BOARD = programAt('PLUGGED_BOARD', 'plugged_board', 'cargo build -p tests --bin plugged_board');

/** The emulated board, plugged in at `port`. */
export class Board {
  static async plug(studio) {
    const board = new Board();
    board.port = path.join(studio.folder, 'board');
    board.child = spawn(BOARD, [board.port], { stdio: ['pipe', 'pipe', 'inherit'] });
    const ended = new Promise((resolve) => board.child.once('exit', resolve));
    board.next = linesOf(board.child);
    studio.endings.push(async () => {
      board.child.stdin.end();
      await ended;
    });
    assert.equal(await board.next(), 'plugged in');
    return board;
  }

  /** Gives a command and gives its answer back. */
  async tell(words) {
    this.child.stdin.write(`${words}\n`);
    return this.next();
  }
}
