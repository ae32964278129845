/** A write followed by a read on I2C0, made by writing the controller's registers as a driver would; for tests. */
const I2C0 = 0x40044000;
const [TAR, DATA_CMD, RAW_INTR_STAT, CLR_INTR, ENABLE, STATUS] = [0x04, 0x10, 0x34, 0x40, 0x6c, 0x70].map((offset) => I2C0 + offset);
const [READ, STOP, RESTART] = [1 << 8, 1 << 9, 1 << 10];
const TX_ABRT = 1 << 6;
const LONGEST_NS = 10e6;

/**
 * @param {import('rp2040js').RP2040} rp2040
 * @param {number} address
 * @param {number[]} written at most 16 together with what is read
 * @param {number} count of bytes to read
 * @returns {number[] | null | undefined} what was read; null when nobody acknowledged; undefined when it never came to an end
 */
export function transfer(rp2040, address, written, count) {
  rp2040.writeUint32(ENABLE, 0);
  rp2040.writeUint32(TAR, address);
  rp2040.writeUint32(ENABLE, 1);
  rp2040.readUint32(CLR_INTR);
  const commands = [...written, ...Array(count).fill(READ)];
  commands[commands.length - 1] |= STOP;
  if (written.length > 0 && count > 0) commands[written.length] |= RESTART;
  for (const command of commands) rp2040.writeUint32(DATA_CMD, command);
  rp2040.clock.tick(LONGEST_NS);
  if (rp2040.readUint32(RAW_INTR_STAT) & TX_ABRT) return null;
  if (rp2040.readUint32(STATUS) & 1) return undefined;
  return Array.from({ length: count }, () => rp2040.readUint32(DATA_CMD) & 0xff);
}
