/**
 * The needle as the Hall switch shows it: the line idles high (pull-up) and goes low while the magnet is in front. Trains of
 * strokes go on in the world's time, whether the machine is running, busy with its flash, being reset or off.
 */
export class Needle {
  #trains = new Set();
  /** Trains whose magnet is in front of the switch. */
  #low = new Set();

  /**
   * @param {import('./timeline.mjs').Timeline} timeline
   * @param {(level: boolean) => void} setLine
   */
  constructor(timeline, setLine) {
    this.timeline = timeline;
    this.setLine = setLine;
    this.given = 0;
  }

  /** Strokes asked for and not given yet. */
  get left() {
    return [...this.#trains].reduce((sum, train) => sum + train.count - train.done, 0);
  }

  /**
   * Gives `count` strokes at `hz`, the first period starting now. In each period the line is low for the last `duty` share, so
   * that stroke number k (from 1) ends with the rising edge at k / hz seconds.
   */
  strokes({ count, hz, duty = 0.3 }) {
    if (!(count >= 0 && hz > 0 && duty > 0 && duty < 1)) throw new Error(`no such strokes: ${count} at ${hz} Hz, duty ${duty}`);
    if (count === 0) return;
    const train = { startNs: this.timeline.nowNs, periodNs: 1e9 / hz, duty, count, done: 0, callOff: null };
    this.#trains.add(train);
    this.#next(train);
  }

  /** Ends all trains now. */
  stop() {
    for (const train of this.#trains) train.callOff?.();
    this.#trains.clear();
    this.#low.clear();
    this.setLine(true);
  }

  /** The line is low as long as anybody pulls it low. */
  #pull(train, isLow) {
    const wasLow = this.#low.size > 0;
    if (isLow) this.#low.add(train);
    else this.#low.delete(train);
    if (this.#low.size > 0 !== wasLow) this.setLine(!isLow);
  }

  #next(train) {
    const endNs = train.startNs + (train.done + 1) * train.periodNs;
    train.callOff = this.timeline.at(endNs - train.duty * train.periodNs, () => {
      this.#pull(train, true);
      train.callOff = this.timeline.at(endNs, () => this.#finish(train));
    });
  }

  #finish(train) {
    this.#pull(train, false);
    train.done++;
    this.given++;
    if (train.done < train.count) this.#next(train);
    else this.#trains.delete(train);
  }
}
