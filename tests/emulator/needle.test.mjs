import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { Needle } from './needle.mjs';
import { Timeline } from './timeline.mjs';

function bench() {
  const { clock } = new RP2040();
  const timeline = new Timeline();
  timeline.follow(clock);
  const changes = [];
  const needle = new Needle(timeline, (level) => changes.push([Math.round(clock.nanos / 1000), level]));
  return { clock, needle, changes };
}

test('a stroke is low for the last share of its period and ends with it', () => {
  const { clock, needle, changes } = bench();
  needle.strokes({ count: 2, hz: 1000, duty: 0.25 });
  clock.tick(3e6);
  assert.deepEqual(changes, [[750, false], [1000, true], [1750, false], [2000, true]]);
});

test('a pulse inside a stroke changes nothing, and one that outlasts it makes the line low for longer', () => {
  const { clock, needle, changes } = bench();
  needle.strokes({ count: 1, hz: 1000, duty: 0.5 });
  clock.tick(100_000);
  needle.strokes({ count: 1, hz: 2000, duty: 0.01 });
  needle.strokes({ count: 1, hz: 1000, duty: 0.2 });
  clock.tick(3e6);
  // Low from 500 to 1000, from 595 to 600, and from 900 to 1100.
  assert.deepEqual(changes, [[500, false], [1100, true]]);
});
