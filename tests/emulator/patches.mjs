/**
 * What has to be corrected in the unmodified package `rp2040js` before the board image runs as it does on silicon. Every patch
 * works on one machine, at run time; `PATCHES` names them, so that a test can leave one out and show what then goes wrong.
 * "The datasheet" is the RP2040 datasheet by its section numbers.
 */
import { BasePeripheral } from 'rp2040js';
import { patchI2cAbort, patchI2cInterrupts, patchI2cReset } from './i2c_patches.mjs';
import { patchPioTime } from './pio_clock.mjs';

const AIRCR = 0xd0c;
const AIRCR_KEY = 0x05fa;
const AIRCR_SYSRESETREQ = 1 << 2;
const BUFFER_AVAILABLE = 1 << 10;
const DPRAM_BUFFERS = { first: 0x80, last: 0xfc };
const EDGES = 0b1100;
const PAD_RESET_VALUE = 0x56;
const PWM_CHANNEL_BYTES = 0x14;
const PWM_CHANNELS_END = 0xa0;
const RANDOMBIT = 0x1c;
const SSI = { ctrlr0: 0x00, ssienr: 0x08, sr: 0x28, dr0: 0x60, rxNotEmpty: 1 << 3, eepromRead: 3 };
const USB_SIE_STATUS = 0x50;
const USB_SUSPENDED = 1 << 4;
const XIP_CTRL = 0x14000;

/**
 * Silicon: a PWM slice in an edge mode takes its B pin as input and counts (datasheet 4.5.2.5). The package tests the pin's
 * direction with `&&` where `&` is meant, so that one output pin anywhere stops all counting; and it lets a slice that is not
 * enabled count. Needle strokes are counted by such a slice.
 */
export function patchPwmEdgeInput(rp2040) {
  rp2040.pwm.gpioOnInput = function (pin) {
    if (this.gpioDirection & (1 << pin)) return;
    for (const channel of this.channels) {
      const isItsInput = channel.pinB1 === pin || channel.pinB2 === pin;
      if (isItsInput && channel.csr & 1) channel.gpioBChanged();
    }
  };
}

/**
 * Silicon: writing DIV changes the divider and nothing else. The package's timer switches itself on when its divider is
 * written, whatever the mode, so that a slice set to count edges counts clock ticks as well.
 */
export function patchPwmDivider(rp2040) {
  const { pwm } = rp2040;
  const write = pwm.writeUint32;
  pwm.writeUint32 = function (offset, value) {
    write.call(this, offset, value);
    if (offset < PWM_CHANNELS_END) this.channels[Math.floor(offset / PWM_CHANNEL_BYTES)].updateEnable();
  };
}

/**
 * Silicon: AVAILABLE of an OUT buffer is cleared when the packet has arrived (datasheet 4.1.2.5). The package clears it the
 * moment the buffer is armed. The USB driver polls that bit and would see an empty packet at once.
 */
export function patchUsbOutAvailable(rp2040) {
  const { usbCtrl: usb, usbDPRAMView: dpram } = rp2040;
  const updated = usb.DPRAMUpdated;
  const finish = usb.finishRead;
  usb.DPRAMUpdated = function (offset, value) {
    updated.call(this, offset, value);
    const isOutBuffer = offset >= DPRAM_BUFFERS.first && offset <= DPRAM_BUFFERS.last && offset & 4;
    if (isOutBuffer && value & BUFFER_AVAILABLE) dpram.setUint32(offset, dpram.getUint32(offset, true) | BUFFER_AVAILABLE, true);
  };
  usb.finishRead = function (endpoint, packet) {
    const offset = DPRAM_BUFFERS.first + 4 + endpoint * 8;
    dpram.setUint32(offset, dpram.getUint32(offset, true) & ~BUFFER_AVAILABLE, true);
    finish.call(this, endpoint, packet);
  };
}

/**
 * A real host with nothing to say sends nothing. The package's host answers every armed OUT buffer with an empty packet 10 us
 * later, so that the firmware wakes 100,000 times a second and no sleep can be skipped. (Endpoint 0 keeps its empty packets:
 * there they mean "done".)
 */
export function patchUsbEmptyOutPackets(rp2040) {
  const { usbCtrl: usb } = rp2040;
  const done = usb.endpointReadDone;
  usb.endpointReadDone = function (endpoint, packet, ...delay) {
    if (endpoint === 0 || packet.length > 0) done.call(this, endpoint, packet, ...delay);
  };
}

/**
 * Silicon: the SUSPENDED bit of SIE_STATUS is cleared by writing a one to it (datasheet 4.1.4, type WC). The package keeps it: once
 * the cable has been pulled out, the driver would handle the same suspension for ever.
 */
export function patchUsbSuspendedBit(rp2040) {
  const { usbCtrl: usb } = rp2040;
  const write = usb.writeUint32;
  usb.writeUint32 = function (offset, value) {
    if (offset === USB_SIE_STATUS) this.sieStatus &= ~(this.rawWriteValue & USB_SUSPENDED);
    write.call(this, offset, value);
  };
}

/**
 * Silicon: XIP_CTRL says whether the flash cache is ready and how much of a streamed read is left (datasheet 2.6.3). The
 * package has no such block and reads all ones: the flash driver waits for ever for the stream to end.
 */
export function patchXipCtrl(rp2040) {
  const STAT = 0x08;
  const FLUSH_READY_AND_FIFO_EMPTY = 0b11;
  class XipCtrl extends BasePeripheral {
    readUint32(offset) {
      return offset === STAT ? FLUSH_READY_AND_FIFO_EMPTY : 0;
    }
    writeUint32() {
      // There is no cache to flush and nothing is streamed.
    }
  }
  rp2040.peripherals[XIP_CTRL] = new XipCtrl(rp2040, 'XIP_CTRL');
}

/**
 * Silicon: a pad's reset value is 0x56, input enabled (datasheet 2.19.6.3). The package has 0x36, input off. The PWM input of
 * the firmware's library relies on the reset value.
 */
export function patchPadResetValue(rp2040) {
  for (const pin of rp2040.gpio) pin.padValue = PAD_RESET_VALUE;
}

/**
 * Silicon: an edge is latched when the level changes. The package latches one whenever a level is set or the pad is written,
 * so that a button press or a stroke is made up at boot.
 */
export function patchGpioEdges(rp2040) {
  for (const pin of rp2040.gpio) {
    const set = pin.setInputValue;
    let seen;
    pin.setInputValue = function (value) {
      const level = Boolean(value && this.inputEnable);
      if (level === seen) {
        this.rawInputValue = value;
        return;
      }
      const isFirstLevel = seen === undefined;
      seen = level;
      set.call(this, value);
      if (!isFirstLevel) return;
      this.irqStatus &= ~EDGES;
      rp2040.updateIOInterrupt();
    };
  }
}

/**
 * Silicon: writing the key and SYSRESETREQ to AIRCR resets the chip (ARMv6-M, B3.2.6). The package ignores the register. Here
 * `rp2040.onSystemReset` is called. A panic handler and a firmware update end that way.
 */
export function patchSystemReset(rp2040) {
  const { ppb } = rp2040;
  const { readUint32, writeUint32 } = ppb;
  ppb.readUint32 = function (offset) {
    return offset === AIRCR ? 0xfa050000 : readUint32.call(this, offset);
  };
  ppb.writeUint32 = function (offset, value) {
    if (offset !== AIRCR) writeUint32.call(this, offset, value);
    else if (value >>> 16 === AIRCR_KEY && value & AIRCR_SYSRESETREQ) rp2040.onSystemReset?.();
  };
}

/**
 * Silicon: a watchdog that fires resets the chip, once (datasheet 4.7). The package calls a hook and arms itself again for the
 * same instant: time would stand still for ever.
 */
export function patchWatchdogFiresOnce(rp2040) {
  const { watchdog } = machineParts(rp2040);
  const fire = watchdog.alarm.callback;
  watchdog.alarm.callback = () => {
    watchdog.enable = false;
    watchdog.timer.set(0);
    watchdog.timer.enable = false;
    watchdog.alarm.enable = false;
    fire();
  };
}

/**
 * Silicon: in its "EEPROM read" mode the SSI sends a command to the flash chip and then receives (datasheet 4.10.8); that is how
 * the unique id is read. The package answers every command with zeros. Here `rp2040.onFlashCommand(bytes)` gives what the chip
 * shifts out after the command, dummy bytes included.
 */
export function patchFlashCommands(rp2040) {
  const { ssi } = machineParts(rp2040);
  const { readUint32, writeUint32 } = ssi;
  let command = [];
  let position = 0;
  const isReading = () => ((ssi.crtlr0 >> 8) & 3) === SSI.eepromRead && ssi.ssienr & 1;
  ssi.writeUint32 = function (offset, value) {
    if (offset === SSI.dr0 && isReading()) {
      command.push(value & 0xff);
      return;
    }
    if (offset === SSI.ssienr) [command, position] = [[], 0];
    writeUint32.call(this, offset, value);
  };
  ssi.readUint32 = function (offset) {
    if (!isReading()) return readUint32.call(this, offset);
    if (offset === SSI.sr) return (readUint32.call(this, offset) & ~SSI.rxNotEmpty) | (command.length ? SSI.rxNotEmpty : 0);
    if (offset === SSI.dr0) return rp2040.onFlashCommand?.(command)[position++] ?? 0xff;
    return readUint32.call(this, offset);
  };
}

/**
 * Silicon: RANDOMBIT of the ring oscillator gives a random bit (datasheet 2.17.5). The package reads all ones there, so that every
 * number drawn by the firmware is the same. Here `rp2040.randomBit()` gives the bit.
 */
export function patchRandomBit(rp2040) {
  const { ringOscillator } = machineParts(rp2040);
  const { readUint32 } = ringOscillator;
  ringOscillator.readUint32 = function (offset) {
    return offset === RANDOMBIT && rp2040.randomBit ? rp2040.randomBit() : readUint32.call(this, offset);
  };
}

/** All patches by name, in the order in which they are applied. */
export const PATCHES = [
  { name: 'pwm_edge_input', apply: patchPwmEdgeInput },
  { name: 'pwm_divider', apply: patchPwmDivider },
  { name: 'usb_out_available', apply: patchUsbOutAvailable },
  { name: 'usb_empty_out_packets', apply: patchUsbEmptyOutPackets },
  { name: 'usb_suspended_bit', apply: patchUsbSuspendedBit },
  { name: 'xip_ctrl', apply: patchXipCtrl },
  { name: 'pad_reset_value', apply: patchPadResetValue },
  { name: 'i2c_interrupts', apply: patchI2cInterrupts },
  { name: 'i2c_abort', apply: patchI2cAbort },
  { name: 'i2c_reset', apply: patchI2cReset },
  { name: 'gpio_edges', apply: patchGpioEdges },
  { name: 'system_reset', apply: patchSystemReset },
  { name: 'watchdog_fires_once', apply: patchWatchdogFiresOnce },
  { name: 'flash_commands', apply: patchFlashCommands },
  { name: 'random_bit', apply: patchRandomBit },
  { name: 'pio_time', apply: patchPioTime },
];

/**
 * Applies every patch but those named in `without`.
 *
 * @param {import('rp2040js').RP2040} rp2040
 * @param {string[]} without
 * @throws {Error} when `without` names no patch
 */
export function applyPatches(rp2040, without = []) {
  for (const name of without) {
    if (!PATCHES.some((patch) => patch.name === name)) throw new Error(`there is no patch ${name}`);
  }
  for (const patch of PATCHES) if (!without.includes(patch.name)) patch.apply(rp2040);
}

/** The peripherals that the package reaches only through its address map. */
export function machineParts(rp2040) {
  const { 0x18000: ssi, 0x40058: watchdog, 0x40060: ringOscillator } = rp2040.peripherals;
  return { ssi, watchdog, ringOscillator };
}
