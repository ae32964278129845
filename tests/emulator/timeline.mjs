/**
 * The time of the world around the machine, in nanoseconds since it was first powered. It goes on while the machine is reset or
 * off, whereas the machine's own clock starts at zero each time. Events that a test has asked for (strokes, presses) live here.
 */
export class Timeline {
  #clock = null;
  #bootNs = 0;
  #nowWhileOffNs = 0;
  #events = new Set();

  get nowNs() {
    return this.#clock ? this.#bootNs + this.#clock.nanos : this.#nowWhileOffNs;
  }

  /** From now on time is kept by the clock of a machine that has just been powered. */
  follow(clock) {
    this.leave();
    this.#bootNs = this.#nowWhileOffNs;
    this.#clock = clock;
    for (const event of this.#events) this.#arm(event);
  }

  /** The machine is gone; time stands still until `passWhileOff` or `follow`. */
  leave() {
    this.#nowWhileOffNs = this.nowNs;
    this.#clock = null;
  }

  /** Lets time pass while no machine runs; what falls due happens. */
  passWhileOff(ns) {
    const end = this.#nowWhileOffNs + ns;
    for (;;) {
      const next = [...this.#events].filter((event) => event.dueNs <= end).sort((a, b) => a.dueNs - b.dueNs)[0];
      if (!next) break;
      this.#nowWhileOffNs = Math.max(this.#nowWhileOffNs, next.dueNs);
      this.#happen(next);
    }
    this.#nowWhileOffNs = end;
  }

  /** Calls `action` at `dueNs`. @returns {() => void} calls it off */
  at(dueNs, action) {
    const event = { dueNs, action, alarm: null };
    this.#events.add(event);
    if (this.#clock) this.#arm(event);
    return () => {
      this.#events.delete(event);
      event.alarm?.cancel();
    };
  }

  #arm(event) {
    event.alarm = this.#clock.createAlarm(() => this.#happen(event));
    event.alarm.schedule(Math.max(0, event.dueNs - this.nowNs));
  }

  #happen(event) {
    this.#events.delete(event);
    event.action();
  }
}
