/** What has to be corrected in the package's I2C controllers; see `patches.mjs`. */
const I2C = { mask: 0x30, rxThreshold: 0x38, txThreshold: 0x3c, rxFull: 1 << 2, txEmpty: 1 << 4 };
const RESETS = 0x4000c;
const RESET = 0;
const FIRST_RESET_BIT = 3;
const IDLE = 0;

/**
 * Silicon: IC_INTR_MASK chooses the interrupts, RX_FULL and TX_EMPTY are levels that follow FIFO and threshold (datasheet
 * 4.3.14). In the package the mask cannot be written and the levels are not looked at again, so that an interrupt-driven driver
 * waits for ever.
 */
export function patchI2cInterrupts(rp2040) {
  for (const bus of rp2040.i2c) {
    const write = bus.writeUint32;
    bus.writeUint32 = function (offset, value) {
      if (offset === I2C.mask) this.intEnable = value & 0x1fff;
      else write.call(this, offset, value);
      if (offset !== I2C.mask && offset !== I2C.rxThreshold && offset !== I2C.txThreshold) return;
      const rxFull = this.rxFIFO.itemCount > this.rxThreshold ? I2C.rxFull : 0;
      const txEmpty = this.txFIFO.itemCount <= this.txThreshold ? I2C.txEmpty : 0;
      this.intRaw = (this.intRaw & ~(I2C.rxFull | I2C.txEmpty)) | rxFull | txEmpty;
      this.checkInterrupts();
    };
  }
}

/**
 * Silicon: a byte that nobody acknowledges flushes the transmit FIFO, and an empty FIFO says so (datasheet 4.3.17, TX_EMPTY and
 * TX_ABRT). The package only flushes it, and a driver that waits for TX_EMPTY before it looks at the abort waits for ever.
 */
export function patchI2cAbort(rp2040) {
  for (const bus of rp2040.i2c) {
    const abort = bus.abort;
    bus.abort = function (reason) {
      abort.call(this, reason);
      this.setInterrupts(I2C.txEmpty);
    };
  }
}

/**
 * Silicon: a controller that is held in reset forgets the transfer under way (datasheet 2.14). The package's RESETS touches nothing.
 * Here `bus.onReset` tells those on the wires.
 */
export function patchI2cReset(rp2040) {
  const resets = rp2040.peripherals[RESETS];
  const write = resets.writeUint32;
  resets.writeUint32 = function (offset, value) {
    const before = this.reset;
    write.call(this, offset, value);
    if (offset !== RESET) return;
    rp2040.i2c.forEach((bus, i) => {
      const bit = 1 << (FIRST_RESET_BIT + i);
      if (value & bit && !(before & bit)) reset(bus);
    });
  };
}

function reset(bus) {
  Object.assign(bus, { state: IDLE, busy: false, stop: false, pendingRestart: false });
  Object.assign(bus, { enable: 0, rxThreshold: 0, txThreshold: 0, abortSource: 0, intRaw: 0, intEnable: 0 });
  bus.rxFIFO.reset();
  bus.txFIFO.reset();
  bus.checkInterrupts();
  bus.onReset?.();
}
