import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { applyPatches } from './patches.mjs';
import { UsbHost } from './usb_host.mjs';

const DPRAM = 0x50100000;
const USB = 0x50110000;
const [MAIN_CTRL, SIE_STATUS, BUFF_STATUS] = [0x40, 0x50, 0x58].map((offset) => USB + offset);
const [BUS_RESET, SETUP_RECEIVED, SUSPENDED] = [1 << 19, 1 << 17, 1 << 4];
const [AVAILABLE, FULL] = [1 << 10, 1 << 15];
const OUT_EP2_DONE = 1 << 5;
const GET_DESCRIPTOR = 6;

/** Configuration of a serial port cut down to its bulk endpoints, 1 to the host and 2 from it (USB 2.0, 9.6). */
const DESCRIPTORS = [
  [9, 2, 32, 0, 1, 1, 0, 0x80, 50],
  [9, 4, 0, 0, 2, 10, 0, 0, 0],
  [7, 5, 0x81, 2, 64, 0, 0],
  [7, 5, 0x02, 2, 64, 0, 0],
].flat();

/** The board's side of the cable, as little as the host needs: answers requests and takes packets on endpoint 2. */
class Device {
  received = [];
  lineStates = [];
  isAwake = true;
  busResets = 0;

  constructor({ isPlugged = true } = {}) {
    this.rp2040 = new RP2040();
    applyPatches(this.rp2040);
    this.fromBoard = [];
    this.host = new UsbHost(this.rp2040, { isPlugged, onReceive: (bytes) => this.fromBoard.push(...bytes) });
    this.rp2040.writeUint32(DPRAM + 0x08, 0x80000180);
    this.rp2040.writeUint32(DPRAM + 0x14, 0x80000200);
    this.rp2040.writeUint32(MAIN_CTRL, 1);
  }

  run(ms) {
    for (let step = 0; step < ms * 100; step++) {
      this.rp2040.clock.tick(10_000);
      this.#serve();
    }
    return this;
  }

  sendPacket(bytes) {
    this.#arm(1, false, 0x180, bytes);
  }

  /** Whether the packet on endpoint 1 is still to be taken. */
  get isWaiting() {
    return (this.rp2040.readUint32(DPRAM + 0x88) & AVAILABLE) !== 0;
  }

  #serve() {
    const { rp2040 } = this;
    const status = rp2040.readUint32(SIE_STATUS);
    if (status & SUSPENDED) this.isAwake = false;
    if (status & BUS_RESET) this.busResets++;
    for (const bit of [BUS_RESET, SUSPENDED]) if (status & bit) rp2040.writeUint32(SIE_STATUS, bit);
    if (status & SETUP_RECEIVED) {
      rp2040.writeUint32(SIE_STATUS, SETUP_RECEIVED);
      this.#answerSetup([0, 1, 2, 3, 4, 5, 6, 7].map((at) => rp2040.readUint8(DPRAM + at)));
    }
    if (rp2040.readUint32(BUFF_STATUS) & OUT_EP2_DONE) {
      const control = rp2040.readUint32(DPRAM + 0x94);
      assert.equal(control & FULL, FULL);
      this.received.push(Array.from({ length: control & 0x3ff }, (_, i) => rp2040.readUint8(DPRAM + 0x200 + i)));
      this.#listen();
    }
    rp2040.writeUint32(BUFF_STATUS, 0xffffffff);
  }

  #answerSetup([, request, value, , , , length]) {
    if (request === GET_DESCRIPTOR) return this.#arm(0, false, 0x100, DESCRIPTORS.slice(0, length));
    if (request === 9) this.#listen();
    if (request === 0x22) this.lineStates.push(value);
    this.isAwake = true;
    return this.#arm(0, false, 0x100, []);
  }

  #listen() {
    this.rp2040.writeUint32(DPRAM + 0x94, AVAILABLE | 64);
  }

  #arm(endpoint, isOut, at, bytes) {
    bytes.forEach((byte, i) => this.rp2040.writeUint8(DPRAM + at + i, byte));
    this.rp2040.writeUint32(DPRAM + 0x80 + endpoint * 8 + (isOut ? 4 : 0), AVAILABLE | FULL | bytes.length);
  }
}

test('a plugged board is enumerated and its port opened', () => {
  const device = new Device().run(12);
  assert.deepEqual([device.host.isOpen, device.lineStates], [true, [3]]);
});

test('bytes go both ways, in packets of at most 64, also those sent before the port was open', () => {
  const device = new Device();
  device.host.send(Array.from({ length: 100 }, (_, i) => i));
  device.run(14);
  assert.deepEqual(device.received.map((packet) => packet.length), [64, 36]);
  assert.deepEqual(device.received.flat(), Array.from({ length: 100 }, (_, i) => i));
  device.sendPacket([1, 2, 3]);
  device.run(1);
  assert.deepEqual(device.fromBoard, [1, 2, 3]);
});

test('closing and opening the port sends the line state', () => {
  const device = new Device().run(12);
  device.host.setPortOpen(false);
  device.run(1);
  device.host.setPortOpen(true);
  device.run(1);
  assert.deepEqual(device.lineStates, [3, 0, 3]);
});

test('a host that does not read leaves the packet with the board until it reads again', () => {
  const device = new Device().run(12);
  device.host.setReading(false);
  device.sendPacket([1, 2]);
  device.run(100);
  assert.deepEqual([device.fromBoard, device.isWaiting], [[], true]);
  device.host.send([3]);
  device.run(1);
  assert.deepEqual(device.received, [[3]]);
  device.host.setReading(true);
  device.run(1);
  assert.deepEqual([device.fromBoard, device.isWaiting], [[1, 2], false]);
});

test('a board without a cable is not enumerated until it is plugged in', () => {
  const device = new Device({ isPlugged: false }).run(30);
  assert.deepEqual([device.host.isOpen, device.busResets], [false, 0]);
  assert.throws(() => device.host.setPortOpen(true), /not been enumerated/);
  device.host.plug();
  device.run(12);
  assert.equal(device.host.isOpen, true);
});

test('pulling the cable suspends the bus after 3 ms, nothing gets through, and plugging in starts anew', () => {
  const device = new Device().run(12);
  device.host.unplug();
  device.run(2);
  assert.equal(device.isAwake, true);
  device.run(2);
  assert.deepEqual([device.isAwake, device.host.isOpen], [false, false]);
  device.sendPacket([9]);
  assert.throws(() => device.host.send([5]), /cable is out/);
  device.run(20);
  assert.deepEqual([device.fromBoard, device.received, device.isWaiting], [[], [], true]);
  device.host.plug();
  device.run(14);
  assert.deepEqual([device.host.isOpen, device.lineStates, device.isAwake], [true, [3, 3], true]);
  device.host.send([6]);
  device.run(1);
  assert.deepEqual(device.received, [[6]]);
});
