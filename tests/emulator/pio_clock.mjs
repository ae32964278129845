/**
 * The state machines of the package in machine time. A machine that waits for a pin costs nothing until that pin changes; one that
 * only computes is run ahead to where it next does something that others see, and taken back when a pin changes before that.
 */
const [JMP, WAIT, IN, MOV, SET] = [0, 1, 2, 5, 7];
const WAIT_FOR_IRQ = 2;
const AUTOPUSH = 1 << 16;
const [X, Y, ISR, OSR] = [1, 2, 6, 7];
const FIFO_STATUS = 5;
const LONGEST_RUN_AHEAD = 4096;
/** Above what is lost in hours of nanoseconds, below the shortest cycle. */
const ROUNDING_NS = 0.5;
const STATE = [
  'x', 'y', 'pc', 'inputShiftReg', 'inputShiftCount', 'outputShiftReg', 'outputShiftCount', 'cycles', 'execCtrl',
  'updatePC', 'waiting', 'waitType', 'waitIndex', 'waitPolarity', 'waitDelay',
];

/** Whether nobody but the state machine itself can tell that it has executed this. */
function isPrivate(opcode, machine) {
  if (machine.sidesetCount > 0) return false;
  const destination = (opcode >> 5) & 7;
  switch (opcode >>> 13) {
    case JMP:
      return true;
    case WAIT:
      return ((opcode >> 5) & 3) !== WAIT_FOR_IRQ;
    case IN:
      return !(machine.shiftCtrl & AUTOPUSH);
    case MOV:
      return [X, Y, ISR, OSR].includes(destination) && (opcode & 7) !== FIFO_STATUS;
    case SET:
      return [X, Y].includes(destination);
    default:
      return false;
  }
}

class StateMachineClock {
  /** When the next instruction is executed; while the machine waits, some cycle of its clock. */
  #dueNs = 0;
  /** The state before running ahead, and when it was due; null when the machine is where it is now. */
  #before = null;
  #wasEnabled = false;
  #wasWaiting = false;

  constructor(rp2040, machine) {
    this.rp2040 = rp2040;
    this.machine = machine;
    this.alarm = rp2040.clock.createAlarm(() => {
      this.settle();
      this.plan();
    });
  }

  get #cycleNs() {
    const { clockDivInt, clockDivFrac } = this.machine;
    return (((clockDivInt || 65536) + clockDivFrac / 256) * 1e9) / this.rp2040.clkSys;
  }

  #step() {
    const { machine } = this;
    const before = machine.cycles;
    machine.step();
    machine.pio.checkChangedPins();
    this.#dueNs += Math.max(1, machine.cycles - before) * this.#cycleNs;
  }

  /** What a machine has waited for has come; its divided clock has gone on meanwhile. */
  #resume(nowNs) {
    const missed = Math.max(0, Math.floor((nowNs - this.#dueNs) / this.#cycleNs) + 1);
    this.#dueNs += (missed + Math.max(0, this.machine.waitDelay)) * this.#cycleNs;
  }

  /** Executes all that is due by now. To be called before anything that the machine can see changes. */
  settle() {
    const { machine, rp2040 } = this;
    if (!machine.enabled && !this.#wasEnabled) return;
    const nowNs = rp2040.clock.nanos + ROUNDING_NS;
    // What was due by then has all been executed: running ahead has come true.
    if (this.#before !== null && this.#dueNs <= nowNs) this.#before = null;
    if (this.#before !== null) {
      STATE.forEach((name, i) => (machine[name] = this.#before.state[i]));
      this.#dueNs = this.#before.dueNs;
      this.#before = null;
    }
    while (machine.enabled && !machine.waiting && this.#dueNs <= nowNs) this.#step();
    this.#wasEnabled = machine.enabled;
    this.#wasWaiting = machine.waiting;
  }

  /** Finds out when the machine next does something that others see. To be called after such a change. */
  plan() {
    const { machine, rp2040 } = this;
    if (!machine.enabled && !this.#wasEnabled) return;
    this.alarm.cancel();
    if (!machine.enabled || machine.waiting) return;
    const nowNs = rp2040.clock.nanos;
    if (!this.#wasEnabled) this.#dueNs = nowNs + this.#cycleNs;
    else if (this.#wasWaiting) this.#resume(nowNs);
    this.#before = { state: STATE.map((name) => machine[name]), dueNs: this.#dueNs };
    const { instructions } = machine.pio;
    for (let steps = 0; steps < LONGEST_RUN_AHEAD && !machine.waiting; steps++) {
      if (!isPrivate(instructions[machine.pc], machine)) break;
      this.#step();
    }
    if (!machine.waiting) this.alarm.schedule(Math.max(0, this.#dueNs - nowNs));
  }
}

/**
 * Silicon: a state machine executes one instruction in each cycle of its divided clock (datasheet 3.5.5), and a change of a pin
 * is seen when it happens. The package runs all eight in real time, a thousand instructions at a go, whether enabled or
 * not.
 */
export function patchPioTime(rp2040) {
  const clocks = rp2040.pio.flatMap((pio) => pio.machines.map((machine) => new StateMachineClock(rp2040, machine)));
  const around = (act) => {
    for (const clock of clocks) clock.settle();
    const answer = act();
    for (const clock of clocks) clock.plan();
    return answer;
  };
  for (const pio of rp2040.pio) {
    const { readUint32, writeUint32 } = pio;
    pio.run = () => {};
    pio.readUint32 = (offset) => around(() => readUint32.call(pio, offset));
    pio.writeUint32 = (offset, value) => around(() => writeUint32.call(pio, offset, value));
  }
  for (const pin of rp2040.gpio) {
    const set = pin.setInputValue;
    pin.setInputValue = (value) => {
      if (clocks.some((clock) => clock.machine.enabled)) around(() => set.call(pin, value));
      else set.call(pin, value);
    };
  }
}
