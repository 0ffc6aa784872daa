// @ts-check
/** The stream of actions to Python and of answers from it, in one order. See protocol.md. */

const PATIENCE_MS = 6000;

/** @typedef {{page: string, number: number, name: string, arguments: Record<string, any>}} Action */

export class Link {
  /** @param {(action: Action) => void} send */
  constructor(send) {
    this.send = send;
    this.page = Math.random().toString(36).slice(2) + Date.now().toString(36);
    this.number = 0;
    this.seen = 0;
    /** @type {{action: Action, key: string}[]} */
    this.queue = [];
    /** @type {{action: Action, number: number, timer: any} | null} */
    this.under = null;
    /** What was typed and not yet answered, by control. @type {Map<string, {text: any, number: number}>} */
    this.local = new Map();
    /** @type {Record<string, any[]>} */
    this.regions = {};
    /** What the answer that a region was last drawn from had seen. @type {Record<string, number>} */
    this.drawn = {};
    this.focus = "";
    /** @type {any} */
    this.layout = { screen: "", places: [], tabs: [] };
    this.said = { text: "", role: "" };
    this.alive = false;
    this.settled = false;
    this.silent = false;
    this.silence = "Python does not answer. If it was stopped, run the cell again: what you typed was kept.";
    /** @type {(() => void)[]} */
    this.followers = [];
    /** @type {((file: any) => void)} */
    this.onFile = () => {};
  }

  /**
   * Ask for something. Actions of one key that still wait are replaced by the newest.
   * @param {string} name @param {Record<string, any>} given @param {{key?: string, text?: any}} [how]
   */
  act(name, given = {}, how = {}) {
    const action = { page: this.page, number: ++this.number, name, arguments: given };
    const key = how.key ?? "";
    const last = this.queue[this.queue.length - 1];
    if (key && last && last.key === key) last.action = action;
    else this.queue.push({ action, key });
    if (key && "text" in how) this.local.set(key, { text: how.text, number: action.number });
    this.settled = false;
    this.pump();
    this.tell();
  }

  pump() {
    if (this.under || !this.queue.length) return;
    const { action } = /** @type {{action: Action}} */ (this.queue.shift());
    const timer = setTimeout(() => {
      this.silent = true;
      this.tell();
    }, PATIENCE_MS);
    this.under = { action, number: action.number, timer };
    this.send(action);
  }

  /** @param {any} answer */
  receive(answer) {
    if (!answer || typeof answer !== "object" || !answer.layout) return;
    const seen = (answer.seen && answer.seen[this.page]) || 0;
    if (seen >= this.seen) {
      if (answer.layout.screen !== this.layout.screen) {
        const head = this.regions.head;
        this.regions = head ? { head } : {};
        this.drawn = {};
      }
      this.layout = answer.layout;
      this.said = answer.said;
      this.focus = answer.focus || this.focus;
    }
    if (answer.layout.screen === this.layout.screen)
      for (const [name, blocks] of Object.entries(answer.regions))
        if (seen >= (this.drawn[name] || 0)) {
          this.regions[name] = blocks;
          this.drawn[name] = seen;
        }
    this.alive = true;
    this.silent = false;
    this.seen = Math.max(this.seen, seen);
    for (const [key, one] of this.local) if (one.number <= this.seen) this.local.delete(key);
    if (this.under && this.seen >= this.under.number) {
      clearTimeout(this.under.timer);
      this.under = null;
      this.pump();
    }
    this.settled = Boolean(answer.settled) && seen === this.seen && !this.under;
    for (const file of answer.files || []) this.onFile(file);
    this.tell();
  }

  /** What was asked for and not answered yet, in its order. @returns {Action[]} */
  get open() {
    const waiting = this.queue.map((one) => one.action);
    return this.under ? [this.under.action, ...waiting] : waiting;
  }

  /** Python was started anew: forget what was asked for, and have everything sent. */
  renew() {
    if (this.under) clearTimeout(this.under.timer);
    this.under = null;
    this.queue = [];
    this.silent = false;
    this.act("ready");
  }

  /** What a control shows: what was typed last, else what Python says. @param {string} key @param {any} text */
  text(key, text) {
    const own = this.local.get(key);
    return own ? own.text : text;
  }

  tell() {
    for (const follow of this.followers) follow();
  }
}
