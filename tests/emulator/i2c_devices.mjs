import { GPIOPinState, I2CMode } from 'rp2040js';

/**
 * One I2C bus and the devices on it. A device is anything with `address`, `isPresent`, `start(isWrite)`, `write(byte)`, `read()`
 * and `stop()`. A byte takes nine clocks at the rate that the firmware has set in its controller.
 */
export class I2cWires {
  #held = [];
  #isStuck = false;
  /** Clock pulses after which somebody lets go of the data line; zero when it is free. */
  #clocksOwed = 0;
  #setData = () => {};

  /** @param {object[]} devices */
  constructor(devices) {
    this.devices = devices;
    this.addressed = null;
    this.transactions = 0;
  }

  /** A stuck bus answers nothing, not even "no": the transaction under way ends when the bus is freed. */
  get isStuck() {
    return this.#isStuck;
  }

  set isStuck(isStuck) {
    this.#isStuck = isStuck;
    if (!isStuck) for (const answer of this.#held.splice(0)) answer();
  }

  /** Somebody was cut short in an answer: it holds the data line low until it has seen so many more clock pulses, 9 at the most. */
  holdData(clocks) {
    this.#clocksOwed = clocks;
    this.#setData(clocks === 0);
  }

  get isDataHeld() {
    return this.#clocksOwed > 0;
  }

  /**
   * Connects the lines to the pins of a machine that has just been powered; what its firmware does with them by hand is seen.
   *
   * @param {import('rp2040js').RP2040} rp2040
   * @param {{data: number, clock: number}} pins
   * @param {(pin: number, level: boolean) => void} setLevel
   */
  connectLines(rp2040, pins, setLevel) {
    this.#setData = (level) => setLevel(pins.data, level);
    this.#setData(!this.isDataHeld);
    rp2040.gpio[pins.clock].addListener((state, before) => {
      const isRising = before === GPIOPinState.Low && state !== GPIOPinState.Low;
      if (isRising && this.isDataHeld) this.holdData(this.#clocksOwed - 1);
    });
  }

  /**
   * Connects the devices to the controller of a machine that has just been powered.
   *
   * @param {object} bus the package's I2C controller
   * @param {import('rp2040js').SimulationClock} clock
   * @param {() => number} clockHz rate of the controller's clock
   */
  connect(bus, clock, clockHz) {
    this.#held = [];
    this.#endTransaction();
    const byteNs = () => (9e9 * (bus.sclHighPeriod + bus.sclLowPeriod)) / clockHz();
    let life = 0;
    const ofThisLife = (answer) => {
      const asked = life;
      return () => asked === life && answer();
    };
    const afterByte = (answer) => {
      if (this.#isStuck || this.addressed?.hangs) this.#held.push(ofThisLife(answer));
      else clock.createAlarm(ofThisLife(answer)).schedule(byteNs());
    };
    bus.onReset = () => {
      life++;
      this.#held = [];
      this.#endTransaction();
    };
    // No controller starts while the data line is low.
    bus.onStart = () => (this.isDataHeld ? this.#held.push(ofThisLife(() => bus.completeStart())) : bus.completeStart());
    bus.onStop = () => {
      this.#endTransaction();
      bus.completeStop();
    };
    bus.onConnect = (address, mode) => {
      this.#endTransaction();
      this.transactions++;
      this.addressed = this.devices.find((device) => device.address === address && device.isPresent) ?? null;
      this.addressed?.start(mode === I2CMode.Write);
      afterByte(() => bus.completeConnect(this.addressed !== null));
    };
    bus.onWriteByte = (byte) => {
      const isTaken = this.addressed?.isPresent ?? false;
      if (isTaken) this.addressed.write(byte);
      afterByte(() => bus.completeWrite(isTaken));
    };
    bus.onReadByte = () => {
      const byte = this.addressed?.isPresent ? this.addressed.read() : 0xff;
      afterByte(() => bus.completeRead(byte));
    };
  }

  #endTransaction() {
    this.addressed?.stop();
    this.addressed = null;
  }
}

/**
 * What register devices share: the first byte written sets the register pointer, every later byte goes to or comes from where it
 * points, and it counts up, from the last register to 0.
 */
export class RegisterDevice {
  #expectsPointer = false;
  pointer = 0;
  isPresent = true;
  /** Holds the clock line in each transfer with it, until the controller gives up. */
  hangs = false;

  constructor(address, lastRegister) {
    this.address = address;
    this.lastRegister = lastRegister;
  }

  start(isWrite) {
    this.#expectsPointer = isWrite;
  }

  stop() {
    this.#expectsPointer = false;
  }

  write(byte) {
    if (this.#expectsPointer) {
      this.pointer = byte;
      this.#expectsPointer = false;
    } else {
      this.setRegister(this.pointer, byte);
      this.advance();
    }
  }

  read() {
    const byte = this.register(this.pointer);
    this.advance();
    return byte;
  }

  advance() {
    this.pointer = this.pointer >= this.lastRegister ? 0 : this.pointer + 1;
  }
}

const RAW_ANGLE = 0x0c;
const TWO_BYTE_READINGS = [RAW_ANGLE, 0x0e, 0x1b];

/**
 * The magnetic encoder AS5600 at 0x36 (data sheet v1-06), as far as a knob needs it: STATUS 0x0B, RAW ANGLE 0x0C and 0x0D, ANGLE 0x0E
 * and 0x0F (the same here), AGC 0x1A, MAGNITUDE 0x1B and 0x1C; all else reads 0. A read that begins at the high byte of a reading
 * does not move the pointer, so that it can be repeated without writing the pointer again.
 */
export class As5600 extends RegisterDevice {
  /** STATUS bits. */
  static MAGNET_DETECTED = 1 << 5;
  static MAGNET_WEAK = 1 << 4;
  static MAGNET_STRONG = 1 << 3;

  #readingHeld = null;
  /** 0 to 4095 over one turn. */
  angle = 0;
  status = As5600.MAGNET_DETECTED;
  gain = 0x40;
  magnitude = 0x800;
  /** Bytes that somebody wrote into a register. */
  writes = 0;

  constructor() {
    super(0x36, 0xff);
  }

  start(isWrite) {
    super.start(isWrite);
    this.#readingHeld = !isWrite && TWO_BYTE_READINGS.includes(this.pointer) ? this.pointer : null;
  }

  stop() {
    super.stop();
    if (this.#readingHeld !== null) this.pointer = this.#readingHeld;
    this.#readingHeld = null;
  }

  advance() {
    super.advance();
    if (this.#readingHeld !== null && this.pointer > this.#readingHeld + 1) this.pointer = this.#readingHeld;
  }

  register(number) {
    const high = TWO_BYTE_READINGS.find((reading) => number === reading || number === reading + 1);
    if (high !== undefined) {
      const reading = high === 0x1b ? this.magnitude : this.angle;
      return number === high ? (reading >> 8) & 0x0f : reading & 0xff;
    }
    return { 0x0b: this.status, 0x1a: this.gain }[number] ?? 0;
  }

  /** Its settings change nothing that is modelled here, but a write of 0x80 or 0x40 to 0xFF would burn them in for good. */
  setRegister() {
    this.writes++;
  }
}
