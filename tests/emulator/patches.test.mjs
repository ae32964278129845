import assert from 'node:assert/strict';
import test from 'node:test';
import { RP2040 } from 'rp2040js';
import { transfer } from './i2c_transfer.mjs';
import { applyPatches, PATCHES } from './patches.mjs';

const PIO0 = 0x50200000;
const PWM = 0x40050000;
const SLICE_7 = PWM + 7 * 0x14;
const COUNT_RISING_EDGES = 0x21;
const USB_BUFFER_EP1_OUT = 0x5010008c;
const USB = 0x50110000;
const AVAILABLE = 1 << 10;
const FULL = 1 << 15;
const WATCHDOG = 0x40058000;
const AIRCR = 0xe000ed0c;
const SSI = 0x18000000;
const IO_INTR_PINS_16_TO_23 = 0x400140f8;
const PIN_16_EDGES = 0b1100;
const I2C0_IRQ_BIT = 1 << 23;

/** What must hold on a machine that behaves like silicon; each body fails on the package as it is. */
const CLAIMS = {
  pwm_edge_input: {
    claim: 'an enabled slice in edge mode counts the rising edges of its B pin, and a disabled one does not',
    check(rp2040) {
      rp2040.writeUint32(SLICE_7, COUNT_RISING_EDGES);
      pulse(inputPin(rp2040, 15), 3);
      const counted = rp2040.readUint32(SLICE_7 + 8);
      rp2040.writeUint32(SLICE_7, COUNT_RISING_EDGES & ~1);
      pulse(rp2040.gpio[15], 2);
      assert.deepEqual([counted, rp2040.readUint32(SLICE_7 + 8)], [3, 3]);
    },
  },
  pwm_divider: {
    claim: 'writing the divider of a slice that counts edges does not make it count the clock',
    check(rp2040) {
      rp2040.writeUint32(SLICE_7, COUNT_RISING_EDGES);
      rp2040.writeUint32(SLICE_7 + 4, 1 << 4);
      rp2040.clock.tick(10_000);
      assert.equal(rp2040.readUint32(SLICE_7 + 8), 0);
    },
  },
  usb_out_available: {
    claim: 'an OUT buffer stays available until the packet has arrived',
    check(rp2040) {
      rp2040.writeUint32(USB_BUFFER_EP1_OUT, AVAILABLE | 64);
      assert.equal(rp2040.readUint32(USB_BUFFER_EP1_OUT) & AVAILABLE, AVAILABLE);
      rp2040.usbCtrl.endpointReadDone(1, Uint8Array.of(7, 8, 9));
      rp2040.clock.tick(20_000);
      assert.equal(rp2040.readUint32(USB_BUFFER_EP1_OUT), FULL | 3);
    },
  },
  usb_empty_out_packets: {
    claim: 'a host with nothing to say completes no OUT buffer, save on endpoint 0',
    check(rp2040) {
      for (const endpoint of [0, 1]) rp2040.usbCtrl.endpointReadDone(endpoint, new Uint8Array(0));
      rp2040.clock.tick(20_000);
      assert.equal(rp2040.readUint32(USB + 0x58), 1 << 1);
    },
  },
  usb_suspended_bit: {
    claim: 'writing a one clears the suspended bit, and only a one does',
    check(rp2040) {
      rp2040.usbCtrl.sieStatus |= 1 << 4;
      rp2040.writeUint32(USB + 0x50, 1 << 18);
      assert.equal(rp2040.readUint32(USB + 0x50) & (1 << 4), 1 << 4);
      rp2040.writeUint32(USB + 0x50, 1 << 4);
      assert.equal(rp2040.readUint32(USB + 0x50) & (1 << 4), 0);
    },
  },
  xip_ctrl: {
    claim: 'no streamed read is under way and the cache is ready',
    check(rp2040) {
      assert.deepEqual([rp2040.readUint32(0x14000018), rp2040.readUint32(0x14000008) & 1], [0, 1]);
    },
  },
  pad_reset_value: {
    claim: 'every pad comes out of reset as 0x56',
    check(rp2040) {
      const pads = Array.from({ length: 30 }, (_, pin) => rp2040.readUint32(0x4001c004 + 4 * pin));
      assert.deepEqual(pads, Array(30).fill(0x56));
    },
  },
  i2c_interrupts: {
    claim: 'an enabled TX_EMPTY interrupt of an idle controller is pending at once, and gone when it is masked',
    check(rp2040) {
      rp2040.writeUint32(0x40044030, 1 << 4);
      assert.equal(rp2040.core.pendingInterrupts & I2C0_IRQ_BIT, I2C0_IRQ_BIT);
      rp2040.writeUint32(0x40044030, 0);
      assert.equal(rp2040.core.pendingInterrupts & I2C0_IRQ_BIT, 0);
    },
  },
  i2c_abort: {
    claim: 'a byte to an address that nobody has leaves the transmit FIFO empty, and it says so',
    check(rp2040) {
      assert.equal(transfer(rp2040, 0x68, [0x0f], 0), null);
      assert.equal(rp2040.readUint32(0x40044034) & (1 << 4), 1 << 4);
    },
  },
  i2c_reset: {
    claim: 'a controller in reset forgets the transfer that never came to an end',
    check(rp2040) {
      const [bus] = rp2040.i2c;
      bus.onWriteByte = bus.onConnect = () => {};
      transfer(rp2040, 0x68, [0x0f], 0);
      const busyBefore = rp2040.readUint32(0x40044070) & 1;
      rp2040.writeUint32(0x4000c000, 1 << 3);
      rp2040.writeUint32(0x4000c000, 0);
      assert.deepEqual([busyBefore, rp2040.readUint32(0x40044070) & 1], [1, 0]);
    },
  },
  gpio_edges: {
    claim: 'the first level is no edge, a change is one, and the same level again is none',
    check(rp2040) {
      const pin = inputPin(rp2040, 16);
      const edges = () => rp2040.readUint32(IO_INTR_PINS_16_TO_23) & PIN_16_EDGES;
      pin.setInputValue(true);
      assert.equal(edges(), 0);
      pin.setInputValue(false);
      assert.equal(edges(), 0b0100);
      rp2040.writeUint32(IO_INTR_PINS_16_TO_23, PIN_16_EDGES);
      pin.setInputValue(false);
      assert.equal(edges(), 0);
    },
  },
  system_reset: {
    claim: 'SYSRESETREQ with the key asks for a reset, without the key it does not',
    check(rp2040) {
      let resets = 0;
      rp2040.onSystemReset = () => resets++;
      rp2040.writeUint32(AIRCR, 0x12340004);
      rp2040.writeUint32(AIRCR, 0x05fa0004);
      assert.equal(resets, 1);
    },
  },
  watchdog_fires_once: {
    claim: 'a watchdog that is not fed fires once',
    check(rp2040) {
      let fired = 0;
      rp2040.peripherals[0x40058].onWatchdogTrigger = () => {
        fired++;
        assert.ok(fired < 3, 'time stands still');
      };
      rp2040.writeUint32(WATCHDOG + 4, 2000);
      rp2040.writeUint32(WATCHDOG, 1 << 30);
      rp2040.clock.tick(0.9e6);
      assert.equal(fired, 0);
      rp2040.clock.tick(5e6);
      assert.equal(fired, 1);
    },
  },
  flash_commands: {
    claim: 'the flash chip answers a command that the SSI sends in its EEPROM read mode',
    check(rp2040) {
      rp2040.onFlashCommand = ([command]) => (command === 0x9f ? [0xef, 0x40, 0x15] : []);
      rp2040.writeUint32(SSI + 0x08, 0);
      rp2040.writeUint32(SSI, 0x300);
      rp2040.writeUint32(SSI + 0x08, 1);
      rp2040.writeUint8(SSI + 0x60, 0x9f);
      assert.equal(rp2040.readUint32(SSI + 0x28) & 8, 8);
      assert.deepEqual([1, 2, 3].map(() => rp2040.readUint8(SSI + 0x60)), [0xef, 0x40, 0x15]);
    },
  },
  random_bit: {
    claim: 'the ring oscillator gives the bits that the board draws',
    check(rp2040) {
      const drawn = [0, 1, 1, 0];
      rp2040.randomBit = () => drawn.shift();
      assert.deepEqual([1, 2, 3, 4].map(() => rp2040.readUint32(0x4006001c) & 1), [0, 1, 1, 0]);
    },
  },
  pio_time: {
    claim: 'a state machine executes one instruction in each cycle of its divided clock',
    check(rp2040) {
      // push noblock, for ever; 125 cycles of the system clock of 8 ns are a microsecond.
      rp2040.writeUint32(PIO0 + 0x48, 0x8000);
      rp2040.writeUint32(PIO0 + 0xcc, 0);
      rp2040.writeUint32(PIO0 + 0xc8, 125 << 16);
      rp2040.writeUint32(PIO0, 1);
      const received = () => (rp2040.readUint32(PIO0 + 0x0c) >> 4) & 0xf;
      const atOnce = received();
      rp2040.clock.tick(2_500);
      const then = received();
      rp2040.writeUint32(PIO0, 0);
      assert.deepEqual([atOnce, then], [0, 2]);
    },
  },
};

for (const { name } of PATCHES) {
  const { claim, check } = CLAIMS[name];
  test(`${name}: ${claim}`, () => check(machine([])));
  test(`${name}: without the patch that does not hold`, () => {
    assert.throws(() => check(machine([name])), assert.AssertionError);
  });
}

test('every patch has a claim, and every claim a patch', () => {
  assert.deepEqual(Object.keys(CLAIMS), PATCHES.map((patch) => patch.name));
});

test('leaving out a patch that does not exist is refused', () => {
  assert.throws(() => machine(['pwm_edge_imput']), /no patch pwm_edge_imput/);
});

function machine(without) {
  const rp2040 = new RP2040();
  const quiet = () => {};
  rp2040.logger = { debug: quiet, info: quiet, warn: quiet, error: quiet };
  applyPatches(rp2040, without);
  return rp2040;
}

function inputPin(rp2040, index) {
  const pin = rp2040.gpio[index];
  pin.padValue = 0x56;
  pin.ctrl = 4;
  return pin;
}

function pulse(pin, count) {
  for (let i = 0; i < count; i++) {
    pin.setInputValue(true);
    pin.setInputValue(false);
  }
}
