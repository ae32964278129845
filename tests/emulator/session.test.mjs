import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import test from 'node:test';
import { fileURLToPath } from 'node:url';
import { Session } from './session.mjs';
import { increment, LOOP_FOR_EVER, PANIC, SLEEP_FOR_EVER, store, tinyProgram } from './tiny_program.mjs';

const BRIDGE = fileURLToPath(new URL('bridge.mjs', import.meta.url));
const MS = 1e6;

const sessionWith = (steps = [], tail = SLEEP_FOR_EVER, options = {}) => new Session({ elf: tinyProgram(steps, tail), ...options });

test('every reply tells the time, the instructions and whether there is power; the first one tells of the first start', () => {
  const session = sessionWith([], LOOP_FOR_EVER);
  const { insns, ...rest } = session.handle({ op: 'run', ns: 2 * MS });
  assert.ok(insns > 1000);
  assert.deepEqual(rest, { t_ns: 2 * MS, uptime_ns: 2 * MS, powered: true, rx: '', resets: [{ t_ns: 0, cause: 'power' }] });
  assert.equal('resets' in session.handle({ op: 'run', ns: MS }), false);
});

test('bytes from the board are handed out once', () => {
  const session = sessionWith();
  session.board.received.push(1, 2, 0);
  assert.equal(session.handle({ op: 'run_until_rx', ns: MS }).rx, '010200');
  assert.equal(session.handle({ op: 'run', ns: MS }).rx, '');
});

test('waiting for bytes ends at the delimiter, at any byte when there is none, and at the latest when the time is up', () => {
  const session = sessionWith();
  const { timeline, received } = session.board;
  const later = (ms, byte) => timeline.at(timeline.nowNs + ms * MS, () => received.push(byte));
  later(1, 0x41);
  later(2, 0x00);
  const { t_ns: framed, rx, arrived } = session.handle({ op: 'run_until_rx', ns: 10 * MS });
  assert.deepEqual([framed, rx, arrived], [2 * MS, '4100', true]);
  later(1, 0x41);
  assert.equal(session.handle({ op: 'run_until_rx', ns: 10 * MS, delimiter: null }).t_ns, 3 * MS);
  const late = session.handle({ op: 'run_until_rx', ns: 10 * MS });
  assert.deepEqual([late.t_ns, late.arrived], [13 * MS, false]);
});

test('an unknown operation, an unknown field and a missing field are answered with an error, and the board goes on', () => {
  const session = sessionWith();
  assert.match(session.handle({ op: 'dance' }).error, /no operation dance/);
  assert.match(session.handle({ op: 'run', seconds: 3 }).error, /no field seconds/);
  assert.match(session.handle({ op: 'run' }).error, /field ns is missing/);
  assert.match(session.handle({ op: 'send', hex: 'abc' }).error, /even number/);
  assert.equal(session.handle({ op: 'run', ns: MS }).t_ns, MS);
});

test('a cut is reported once, then the board is off until it is rebooted', () => {
  const session = sessionWith();
  session.handle({ op: 'cut', ns: 3 * MS });
  const cut = session.handle({ op: 'run', ns: 10 * MS });
  assert.deepEqual([cut.t_ns, cut.powered, cut.powercut, cut.uptime_ns], [3 * MS, false, 'at a moment', null]);
  const off = session.handle({ op: 'run', ns: 10 * MS });
  assert.deepEqual([off.t_ns, off.powered, off.powercut], [13 * MS, false, undefined]);
  assert.match(session.handle({ op: 'send', hex: '00' }).error, /no power/);
  const on = session.handle({ op: 'reboot', off_ns: 7 * MS });
  assert.deepEqual([on.t_ns, on.powered, on.resets], [20 * MS, true, [{ t_ns: 20 * MS, cause: 'power' }]]);
});

test('the clock chip is set, read, stopped and taken away, and counts on through a power cut', () => {
  const session = sessionWith();
  const set = session.handle({ op: 'clock', set: '2031-12-31T23:59:59' });
  assert.deepEqual([set.clock, set.stopped], ['2031-12-31T23:59:59.000', false]);
  session.handle({ op: 'reboot', off_ns: 2e9 });
  assert.equal(session.handle({ op: 'clock' }).clock, '2032-01-01T00:00:01.000');
  const changed = session.handle({ op: 'clock', stopped: true, present: false });
  assert.deepEqual([changed.stopped, changed.present], [true, false]);
  session.handle({ op: 'clock', battery: false });
  session.handle({ op: 'reboot' });
  assert.equal(session.handle({ op: 'clock' }).clock, '2000-01-01T00:00:00.000');
  assert.match(session.handle({ op: 'clock', set: 'noon' }).error, /cannot be set to noon/);
});

test('strokes, sensor and bus are set', () => {
  const session = sessionWith();
  session.handle({ op: 'pulses', n: 30, hz: 1000 });
  session.handle({ op: 'angle', v: 0x5ab });
  session.handle({ op: 'status', v: 0x08 });
  session.handle({ op: 'sensor', present: false });
  session.handle({ op: 'bus', stuck: true });
  session.handle({ op: 'run', ns: 10.5 * MS });
  const { pulses_given: given, pulses_left: left } = session.handle({ op: 'state' });
  const { knob, i2c } = session.board;
  assert.deepEqual([given, left, knob.angle, knob.status, knob.isPresent, i2c.isStuck], [10, 20, 0x5ab, 0x08, false, true]);
  session.handle({ op: 'stop_pulses' });
  assert.equal(session.handle({ op: 'state' }).pulses_left, 0);
});

test('a held button is low until it is let go', () => {
  const session = sessionWith();
  session.handle({ op: 'hold', pin: 17, down: true });
  session.handle({ op: 'run', ns: 5e9 });
  assert.equal(session.board.machine.rp2040.gpio[17].inputValue, false);
  session.handle({ op: 'hold', pin: 17, down: false });
  assert.equal(session.board.machine.rp2040.gpio[17].inputValue, true);
});

test('the flash image is saved and loaded, read and written', () => {
  const folder = mkdtempSync(join(tmpdir(), 'flash-'));
  try {
    const path = join(folder, 'image');
    const first = sessionWith();
    first.handle({ op: 'write_flash', at: 0x100000, hex: 'c0ffee' });
    first.handle({ op: 'save_flash', path });
    const second = sessionWith();
    assert.equal(second.handle({ op: 'read_flash', at: 0x100000, len: 4 }).hex, 'ffffffff');
    second.handle({ op: 'load_flash', path });
    assert.equal(second.handle({ op: 'read_flash', at: 0x100000, len: 4 }).hex, 'c0ffeeff');
  } finally {
    rmSync(folder, { recursive: true });
  }
});

test('the watchdog is shown, and a reset is reported with its cause and time', () => {
  const session = sessionWith([increment(0x4005800c), store(0x40058004, 20_000), store(0x40058000, 1 << 30)]);
  session.handle({ op: 'run', ns: 4 * MS });
  const { enabled, left_us: left, reason, scratch } = session.handle({ op: 'watchdog' });
  assert.deepEqual([enabled, Math.round(left / 1000), reason, scratch[0]], [true, 6, 'none', 1]);
  const { resets } = session.handle({ op: 'run', ns: 10 * MS });
  assert.deepEqual(resets.map(({ cause, t_ns: at }) => [cause, Math.round(at / MS)]), [['watchdog', 10]]);
  assert.equal(session.handle({ op: 'watchdog' }).reason, 'timer');
});

test('a panic is reported with every reply until something resets the machine', () => {
  const session = sessionWith([], PANIC);
  assert.match(session.handle({ op: 'run', ns: MS }).halted, /panic: break 0/);
  assert.match(session.handle({ op: 'run', ns: MS }).halted, /panic/);
  assert.equal('halted' in session.handle({ op: 'reboot' }), false);
});

test('without an image the bridge says how it is used', () => {
  const { status, stderr } = spawnSync(process.execPath, [BRIDGE], { encoding: 'utf8' });
  assert.equal(status, 2);
  assert.match(stderr, /usage: node bridge.mjs ELF/);
});

test('a dial is set, and its voltage is at the converter again after a power cut', () => {
  const session = sessionWith();
  assert.equal(session.handle({ op: 'dial', v: 0x1234 }).error, undefined);
  const steps = () => session.board.machine.rp2040.adc.channelValues[0];
  assert.equal(steps(), 0x234);
  session.handle({ op: 'reboot' });
  assert.equal(steps(), 0x234);
});
