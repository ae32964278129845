// The emulated board, plugged in: `tests/src/bin/plugged_board.rs`, which has the pseudo-terminal.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { programAt, linesOf } from './studio.mjs';

const BOARD = programAt('PLUGGED_BOARD', 'plugged_board', 'cargo build -p tests --bin plugged_board');

/** The emulated board, plugged in at `path`. */
export class Board {
  static async plug(t, path) {
    const board = new Board();
    board.child = spawn(BOARD, [path], { stdio: ['pipe', 'pipe', 'inherit'] });
    const ended = new Promise((resolve) => board.child.once('exit', resolve));
    board.next = linesOf(board.child);
    t.after(async () => {
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
