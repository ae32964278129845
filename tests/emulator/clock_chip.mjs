import { RegisterDevice } from './i2c_devices.mjs';

const CONTROL = 0x0e;
const STATUS = 0x0f;
const TEMPERATURE = 0x11;
const LAST_REGISTER = 0x12;
const TIME_REGISTERS = 7;
const OSCILLATOR_STOPPED = 1 << 7;
const ENABLE_32_KHZ = 1 << 3;
const ALARM_FLAGS = 0b11;
const CENTURY = 1 << 7;
const TWELVE_HOURS = 1 << 6;
const PM = 1 << 5;
const DAY_MS = 86_400_000;

/** @returns {number} 0 to 99 as binary-coded decimal */
export const toBcd = (number) => (Math.floor(number / 10) << 4) | number % 10;

/** @returns {number} the number that a binary-coded byte stands for */
export const fromBcd = (byte) => (byte >> 4) * 10 + (byte & 0x0f);

/**
 * The clock chip DS3231 at 0x68 (data sheet 19-5170): time in registers 0x00 to 0x06 as binary-coded decimal, alarms 0x07 to 0x0D (kept,
 * never fire), control 0x0E, status 0x0F with the oscillator-stop flag in bit 7, ageing 0x10, temperature 0x11 and 0x12.
 *
 * It runs on the world's time, not the machine's, and has a battery: resets and power cuts do not stop it. What is read is what the
 * time was at the START or when the pointer came to 0. Written time registers count from the end of the transaction.
 */
export class Ds3231 extends RegisterDevice {
  #nowNs;
  #setTo = { ms: Date.UTC(2000, 0, 1), atNs: 0 };
  #weekdayShift = 0;
  #showsTwelveHours = false;
  #timeBytes = [];
  #written = new Set();
  #secondsWrittenNs = 0;
  #others = new Uint8Array(LAST_REGISTER + 1);

  /** How fast it runs, in millionths; the data sheet promises 2 between 0 and 40 degrees Celsius. */
  #driftPpm = 0;
  hasBattery = true;

  /** @param {() => number} nowNs the world's time */
  constructor(nowNs) {
    super(0x68, LAST_REGISTER);
    this.#nowNs = nowNs;
    this.#others[CONTROL] = 0b0001_1100;
    this.#others[STATUS] = OSCILLATOR_STOPPED | ENABLE_32_KHZ;
    this.#others[TEMPERATURE] = 25;
  }

  /** Milliseconds since 1970 that the chip would show, were it asked for them; it knows nothing of time zones. */
  get unixMs() {
    const passedMs = (this.#nowNs() - this.#setTo.atNs) / 1e6;
    return this.#setTo.ms + passedMs * (1 + this.#driftPpm / 1e6);
  }

  set unixMs(ms) {
    this.#setTo = { ms, atNs: this.#nowNs() };
  }

  get driftPpm() {
    return this.#driftPpm;
  }

  set driftPpm(ppm) {
    this.unixMs = this.unixMs;
    this.#driftPpm = ppm;
  }

  get oscillatorWasStopped() {
    return (this.#others[STATUS] & OSCILLATOR_STOPPED) !== 0;
  }

  set oscillatorWasStopped(wasStopped) {
    if (wasStopped) this.#others[STATUS] |= OSCILLATOR_STOPPED;
    else this.#others[STATUS] &= ~OSCILLATOR_STOPPED;
  }

  /** The supply is gone. Without a battery the time is lost and the flag says so. */
  losePower() {
    this.stop();
    if (this.hasBattery) return;
    this.unixMs = Date.UTC(2000, 0, 1);
    this.oscillatorWasStopped = true;
  }

  start(isWrite) {
    super.start(isWrite);
    this.#latch();
  }

  stop() {
    super.stop();
    this.#takeOver();
  }

  advance() {
    super.advance();
    if (this.pointer === 0) this.#latch();
  }

  register(number) {
    return number < TIME_REGISTERS ? this.#timeBytes[number] : this.#others[number] ?? 0;
  }

  setRegister(number, byte) {
    if (number < TIME_REGISTERS) {
      this.#timeBytes[number] = byte;
      this.#written.add(number);
      if (number === 0) this.#secondsWrittenNs = this.#nowNs();
    } else if (number === STATUS) {
      const old = this.#others[STATUS];
      const canOnlyBeCleared = OSCILLATOR_STOPPED | ALARM_FLAGS;
      this.#others[STATUS] = (old & byte & canOnlyBeCleared) | (byte & ENABLE_32_KHZ);
    } else if (number < TEMPERATURE) this.#others[number] = byte;
  }

  #latch() {
    this.#takeOver();
    const ms = this.unixMs;
    const date = new Date(Math.floor(ms / 1000) * 1000);
    const hours = date.getUTCHours();
    const yearsFrom2000 = date.getUTCFullYear() - 2000;
    this.#timeBytes = [
      toBcd(date.getUTCSeconds()),
      toBcd(date.getUTCMinutes()),
      this.#showsTwelveHours ? TWELVE_HOURS | (hours >= 12 ? PM : 0) | toBcd(hours % 12 || 12) : toBcd(hours),
      this.#weekday(ms) + 1,
      toBcd(date.getUTCDate()),
      toBcd(date.getUTCMonth() + 1) | (yearsFrom2000 >= 100 ? CENTURY : 0),
      toBcd(yearsFrom2000 % 100),
    ];
  }

  #weekday(ms) {
    return (Math.floor(ms / DAY_MS) + this.#weekdayShift) % 7;
  }

  #takeOver() {
    if (this.#written.size === 0) return;
    const [seconds, minutes, hours, weekday, day, month, year] = this.#timeBytes;
    this.#showsTwelveHours = (hours & TWELVE_HOURS) !== 0;
    const hour = this.#showsTwelveHours ? (fromBcd(hours & 0x1f) % 12) + (hours & PM ? 12 : 0) : fromBcd(hours & 0x3f);
    const fullYear = 2000 + fromBcd(year) + (month & CENTURY ? 100 : 0);
    const ms = Date.UTC(fullYear, fromBcd(month & 0x1f) - 1, fromBcd(day), hour, fromBcd(minutes), fromBcd(seconds));
    const subsecondMs = ((this.unixMs % 1000) + 1000) % 1000;
    this.#setTo = this.#written.has(0) ? { ms, atNs: this.#secondsWrittenNs } : { ms: ms + subsecondMs, atNs: this.#nowNs() };
    this.#weekdayShift = 0;
    this.#weekdayShift = (((weekday & 7) - 1 - this.#weekday(this.unixMs)) % 7 + 7) % 7;
    this.#written.clear();
  }
}
