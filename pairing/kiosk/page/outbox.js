// Entries on their way to the service, one at a time, and what happens when no answer comes.
//
// An entry's key makes it safe to offer again. Where an answer is lost, a new place is begun at
// the service and all entries of the piece are offered again with their keys: what was recorded
// is found, what was not is recorded now. Nothing is shown as recorded before that answer.

import { NoAnswer, Refusal, newKey, post } from "./service.js";

const AGAIN_MS = 1500;
const SLOW_MS = 400;
const LONGEST_WAIT_MS = 86400000;

export class Outbox {
  // onBegun(place), onAnswer(answer, entry), onLost(), onSlow(), onRefused(refusal)
  constructor(handlers) {
    this.on = handlers;
    this.session = "";
    this.piece = []; // entries of the piece in hand that were answered
    this.queue = [];
    this.isBusy = false;
    this.isLost = false;
    this.timer = 0;
    this.turn = 0;
  }

  put(kind, text = "", more = {}) {
    this.queue.push({ kind, text, key: newKey(), at: Date.now(), ...more });
    void this.pump();
  }

  // Forgets everything, here at once and at the service when it can be reached.
  leave() {
    const session = this.session;
    this.reset();
    if (session) post("kiosk_leave", { session }).catch(() => {});
  }

  reset() {
    clearTimeout(this.timer);
    this.turn += 1;
    this.session = "";
    this.piece = [];
    this.queue = [];
    this.isBusy = false;
    this.isLost = false;
  }

  // Forgets what waits to be sent.
  drop() {
    this.queue = [];
  }

  // since: when the last of the entries that will be offered again was taken, in ms.
  async begin(since = 0) {
    const waited = since ? Math.min(Math.max(Date.now() - since, 1), LONGEST_WAIT_MS) : 0;
    const place = await post("kiosk_begin", { instead: this.session, waited_ms: waited });
    this.session = place.session;
    this.on.onBegun(place);
  }

  async pump() {
    if (this.isBusy || this.isLost || !this.queue.length) return;
    this.isBusy = true;
    const turn = this.turn;
    const entry = this.queue[0];
    const slow = entry.picture ? 0 : setTimeout(() => this.on.onSlow(), SLOW_MS);
    try {
      if (!this.session) await this.begin();
      const answer = await this.send(entry);
      clearTimeout(slow);
      if (turn !== this.turn) return;
      this.isBusy = false;
      this.answered(entry, answer);
    } catch (problem) {
      clearTimeout(slow);
      if (turn !== this.turn) return;
      this.isBusy = false;
      this.failed(entry, problem);
      return;
    }
    void this.pump();
  }

  send(entry) {
    if (entry.picture) {
      const headers = { "X-Counterfoil-Session": this.session, "X-Counterfoil-Key": entry.key };
      return post("kiosk_frame", entry.picture, { headers, patience: 20000 });
    }
    const { kind, text, key, about, of } = entry;
    if (about) return post("kiosk_about", { session: this.session, key, about, of });
    return post("kiosk_entry", { session: this.session, kind, text, key });
  }

  answered(entry, answer) {
    if (answer.finished.some((one) => one.advice === "lost")) return this.lost();
    this.queue.shift();
    // What did not count must not count later, offered again where other scans came before it.
    // What was said of a piece that is recorded already is no part of the next one.
    const isTurn = entry.kind === "strip" || answer.strip_next !== this.isStripNext;
    const isKept = entry.about ? !entry.of : isTurn || answer.heard.length > 0;
    this.isStripNext = answer.strip_next;
    if (answer.finished.length || entry.kind === "again") this.piece = [];
    else if (isKept) this.piece.push(entry);
    this.on.onAnswer(answer, entry);
  }

  failed(entry, problem) {
    const isOver = problem instanceof Refusal && problem.status < 500 && problem.code !== "session";
    if (!isOver || problem.status === 429) return this.lost();
    // The service does not take this entry and never will.
    this.queue.shift();
    this.on.onRefused(problem);
    void this.pump();
  }

  lost() {
    this.isLost = true;
    this.on.onLost();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.recover(), AGAIN_MS);
  }

  async recover() {
    const turn = this.turn;
    const entry = this.queue[0];
    const before = [...this.piece];
    try {
      const last = entry ?? before.at(-1);
      await this.begin(last?.at);
      for (const one of before) await this.send(one);
      const answer = entry ? await this.send(entry) : null;
      if (turn !== this.turn) return;
      if (answer?.finished.some((one) => one.advice === "lost")) throw new NoAnswer();
      this.isLost = false;
      if (answer) {
        if (answer.finished.length) this.dropRepeats([...before, entry]);
        this.answered(entry, answer);
      }
    } catch {
      if (turn === this.turn) this.timer = setTimeout(() => void this.recover(), AGAIN_MS);
      return;
    }
    void this.pump();
  }

  // Whoever was told "not recorded" has scanned the piece again meanwhile: the answer that came
  // after all is about those scans too. Scans of anything else stay.
  dropRepeats(lost) {
    const known = new Set(lost.map(bare));
    const [first, ...waiting] = this.queue;
    if (waiting.every((entry) => !entry.text || known.has(bare(entry)))) this.queue = [first];
  }
}

function bare(entry) {
  return entry.text.replace(/\s/g, "").toUpperCase();
}
