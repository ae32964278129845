import { USBCDC } from 'rp2040js';

const SUSPENDED = 1 << 4;
const SUSPEND_AFTER_NS = 3e6;
const EP0_IN_BUFFER = 0x80;
const EP15_OUT_BUFFER = 0xfc;
const DTR_AND_RTS = 0b11;

/**
 * The computer at the other end of the cable: enumerates the board, opens its serial port and exchanges raw bytes. One lives as
 * long as one life of the machine. While the cable is out nothing is taken from the board, and after 3 ms without traffic the
 * controller reports a suspended bus (USB 2.0, 7.1.7.6); plugging it in again resets the bus and enumerates anew.
 *
 * The host of the package wants answers of at least 9 bytes on endpoint 0 and asks for no strings.
 */
export class UsbHost {
  #armedBytes = 0;
  #heldBuffer = null;
  #isReading = true;
  #outgoing = [];
  #cdc;

  /**
   * @param {import('rp2040js').RP2040} rp2040
   * @param {{isPlugged: boolean, onReceive: (bytes: Uint8Array) => void}} cable
   */
  constructor(rp2040, { isPlugged, onReceive }) {
    this.rp2040 = rp2040;
    this.usb = rp2040.usbCtrl;
    this.onReceive = onReceive;
    this.isPlugged = isPlugged;
    this.isOpen = false;
    this.#keepBuffersThatNobodyTakes();
    this.#enumerate();
  }

  /** Bytes for the board; they wait until it listens. @throws {Error} while the cable is out */
  send(bytes) {
    if (!this.isPlugged) throw new Error('the cable is out');
    for (const byte of bytes) this.#outgoing.push(byte);
    this.#pump();
  }

  /** Opens or closes the port: sets or clears DTR and RTS. Only once it has been enumerated. */
  setPortOpen(isOpen) {
    if (!this.#isEnumerated) throw new Error('the board has not been enumerated');
    this.#cdc.cdcSetControlLineState(isOpen ? DTR_AND_RTS : 0);
    this.isOpen = isOpen;
  }

  /**
   * Whether the computer takes what the board sends on its serial port. A computer whose program does not read stops taking
   * packets while the port stays open; the packet that waits then arrives when it reads again.
   */
  setReading(isReading) {
    this.#isReading = isReading;
    const held = this.#heldBuffer;
    this.#heldBuffer = null;
    if (isReading && held !== null) this.usb.DPRAMUpdated(held, this.rp2040.usbDPRAMView.getUint32(held, true));
  }

  plug() {
    if (this.isPlugged) return;
    this.isPlugged = true;
    this.usb.sieStatus &= ~SUSPENDED;
    this.usb.sieStatusUpdated();
    this.#enumerate();
    if (this.usb.mainCtrl & 1) this.usb.resetDevice();
  }

  unplug() {
    if (!this.isPlugged) return;
    this.isPlugged = false;
    this.isOpen = false;
    this.#outgoing = [];
    this.#armedBytes = 0;
    this.#heldBuffer = null;
    this.rp2040.clock.createAlarm(() => this.#suspend()).schedule(SUSPEND_AFTER_NS);
  }

  get #isEnumerated() {
    return this.#cdc.initialized;
  }

  #suspend() {
    if (this.isPlugged) return;
    this.usb.sieStatus |= SUSPENDED;
    this.usb.sieStatusUpdated();
  }

  #enumerate() {
    const { usb } = this;
    const cdc = (this.#cdc = new USBCDC(usb));
    const enable = usb.onUSBEnabled;
    usb.onUSBEnabled = () => {
      if (this.isPlugged) enable();
    };
    cdc.onDeviceConnected = () => (this.isOpen = true);
    cdc.onSerialData = (bytes) => {
      if (this.isPlugged) this.onReceive(bytes);
    };
    usb.onEndpointRead = (endpoint, size) => {
      if (endpoint === 0 || endpoint !== cdc.outEndpoint) return;
      this.#armedBytes = size;
      if (!this.#pump()) usb.endpointReadDone(endpoint, new Uint8Array(0));
    };
  }

  #pump() {
    if (this.#armedBytes === 0 || this.#outgoing.length === 0 || !this.isPlugged) return false;
    const packet = Uint8Array.from(this.#outgoing.splice(0, this.#armedBytes));
    this.#armedBytes = 0;
    this.usb.endpointReadDone(this.#cdc.outEndpoint, packet);
    return true;
  }

  #keepBuffersThatNobodyTakes() {
    const { usb } = this;
    const updated = usb.DPRAMUpdated;
    usb.DPRAMUpdated = (offset, value) => {
      const isBuffer = offset >= EP0_IN_BUFFER && offset <= EP15_OUT_BUFFER;
      const isSerialIn = this.#cdc.inEndpoint > 0 && offset === EP0_IN_BUFFER + 8 * this.#cdc.inEndpoint;
      if (isBuffer && !this.isPlugged) return;
      if (isSerialIn && !this.#isReading) this.#heldBuffer = offset;
      else updated.call(usb, offset, value);
    };
  }
}
