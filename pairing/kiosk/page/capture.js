// Keys from a scanner that types, told from a person's by their pace alone; no field has to
// have the focus.
//
// A scanner's keys are 7 to 16 ms apart, a person's more than 50 (handbook of standards,
// section 7). A key is held back until the next one, or HOLD_MS, tells whose it was: so a
// scanned number never shows in a field, not even for a moment. Times are those of the events,
// which stay right when the page itself is slow.

const FAST_MS = 50;
const HOLD_MS = 60;
const END_MS = 120;
// A scan without a terminator is over when nothing more has come for so long by the page's own
// clock, which a busy machine holds up.
const QUIET_MS = 400;
// Some scanners end a scan with two line ends, or a line end and a tab. What follows a scan so
// closely is the scanner's, and presses nothing.
const AFTER_MS = 400;
const FEWEST = 6; // a person's chord is shorter, every number longer
// A scanner that is set slow: nobody reads off and types so many keys in a row so fast (numeric
// keypads: some 4 keys a second. Common practice, no source).
const STEADY_MS = 90;
const STEADY = 10;
const MOST = 2000; // as the wedge's own limit

const GS = "\u001d";

export class Capture {
  // onScan({text, ended, caps, layout}), onKey(char): a person's key outside a field,
  // onStuck(): a key that repeats.
  constructor({ onScan, onKey, onStuck }) {
    this.onScan = onScan;
    this.onKey = onKey;
    this.onStuck = onStuck;
    this.run = [];
    this.released = [];
    this.timer = 0;
    this.code = "";
    this.caps = false;
    this.layout = "";
    this.isBurst = false;
    this.lastAt = -Infinity;
    this.endedAt = -Infinity; // when the last scan, or the last end of it, came
    this.steady = 0;
    this.longest = 0; // keys in a row that followed each other within STEADY_MS
    window.addEventListener("keydown", (event) => this.down(event), true);
    window.addEventListener("keyup", (event) => this.up(event), true);
    window.addEventListener("blur", () => this.close("silence"));
  }

  down(event) {
    if (event.isComposing) return;
    this.caps = event.getModifierState("CapsLock");
    if (isLayoutKey(event)) this.layout = layoutOf(event) || this.layout;
    if (event.repeat && isPrintable(event)) {
      event.preventDefault();
      this.onStuck();
      return;
    }
    if (event.altKey && /^Numpad[0-9]$/.test(event.code)) {
      event.preventDefault();
      this.code += event.code.slice(-1);
      this.keepAwake();
      return;
    }
    const char = charOf(event);
    if (char !== null) return this.take(char, event);
    if (event.key === "Enter" || event.key === "Tab") this.terminator(event);
  }

  up(event) {
    if (event.key !== "Alt" || !this.code) return;
    const code = Number(this.code);
    this.code = "";
    event.preventDefault();
    if (code > 0 && code < 256) this.push(String.fromCharCode(code), event.timeStamp, null);
  }

  take(char, event) {
    const field = fieldOf(event.target);
    if (field && field.dataset.capture === "no") return;
    event.preventDefault();
    this.push(char, event.timeStamp, field);
  }

  terminator(event) {
    // Enter right behind a person's key is a person's; behind a burst it ends the scan.
    const last = this.run.at(-1);
    const isNear = last && event.timeStamp - last.at <= END_MS;
    if (isNear && (this.isBurst || this.looksFast(this.run.length))) {
      swallow(event);
      this.endedAt = event.timeStamp;
      this.close(event.key === "Enter" ? "enter" : "tab");
    } else if (!last && this.isRightAfterScan(event)) {
      swallow(event);
      this.endedAt = event.timeStamp;
    } else {
      this.close("silence");
    }
  }

  isRightAfterScan(event) {
    const gap = event.timeStamp - this.endedAt;
    return gap >= 0 && gap <= AFTER_MS;
  }

  // Whether what was typed since the last call came too fast and evenly for a person.
  tookSteadyKeys() {
    const isSteady = this.longest >= STEADY;
    this.steady = this.longest = 0;
    return isSteady;
  }

  push(char, at, field) {
    this.steady = at - this.lastAt <= STEADY_MS ? this.steady + 1 : 0;
    this.longest = Math.max(this.longest, this.steady);
    this.lastAt = at;
    const last = this.run.at(-1);
    const gap = last ? at - last.at : Infinity;
    if (!last) this.takeBack(at);
    if (last && gap > END_MS) this.close("silence");
    else if (last && gap > FAST_MS && !this.isBurst) this.releaseAll();
    if (this.run.length >= MOST) this.close("silence");
    this.run.push({ char, at, field });
    if (!this.isBurst && this.looksFast(FEWEST)) this.isBurst = true;
    this.keepAwake();
  }

  keepAwake() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.quiet(), this.isBurst ? QUIET_MS : HOLD_MS);
  }

  quiet() {
    if (this.code) return this.keepAwake();
    this.close("silence");
  }

  // Whether the run holds a burst: its last `count` keys followed each other fast.
  looksFast(count) {
    if (this.run.length < Math.max(count, FEWEST)) return false;
    const tail = this.run.slice(-Math.max(count, FEWEST));
    return tail.every((key, index) => index === 0 || key.at - tail[index - 1].at <= FAST_MS);
  }

  close(ended) {
    clearTimeout(this.timer);
    const isScan = this.isBurst;
    const keys = this.run;
    this.run = [];
    this.isBurst = false;
    this.released = isScan ? [] : keys;
    if (!keys.length) return;
    if (!isScan) return keys.forEach((key) => this.release(key));
    this.steady = this.longest = 0;
    this.endedAt = Math.max(this.endedAt, keys.at(-1).at);
    const text = keys.map((key) => key.char).join("");
    this.onScan({ text, ended, caps: this.caps, layout: this.layout });
  }

  releaseAll() {
    const keys = this.run;
    this.run = [];
    this.released = [];
    keys.forEach((key) => this.release(key));
  }

  // A busy machine may hand over a scan in two halves. The clock of the events tells that the
  // first belongs to the second: it is taken back out of the field.
  takeBack(at) {
    const keys = this.released;
    this.released = [];
    if (!keys.length || at - keys.at(-1).at > FAST_MS) return;
    for (const { char, field } of keys.toReversed()) {
      const end = field?.selectionStart ?? 0;
      if (field && field.value[end - 1] === char) field.setRangeText("", end - 1, end, "end");
    }
    this.run = keys;
  }

  release({ char, field }) {
    if (!field || !field.isConnected) return this.onKey(char);
    if (char === GS) return;
    const { selectionStart: start, selectionEnd: end } = field;
    if (field.maxLength > 0 && field.value.length - (end - start) >= field.maxLength) return;
    field.setRangeText(char, start ?? field.value.length, end ?? field.value.length, "end");
    field.dispatchEvent(new InputEvent("input", { bubbles: true, data: char }));
  }
}

function swallow(event) {
  event.preventDefault();
  event.stopPropagation();
}

// The character that a key types, null for one that types none.
function charOf(event) {
  if (event.key === "F8") return GS;
  // Ctrl+] is how GS comes from scanners that type control characters.
  if (event.ctrlKey && !event.altKey && (event.key === "]" || event.code === "BracketRight")) {
    return GS;
  }
  if (event.key === GS) return GS;
  if (!isPrintable(event)) return null;
  if (event.key === " " && isPressable(event.target)) return null;
  return event.key;
}

function isPrintable(event) {
  if (event.metaKey || (event.ctrlKey && !event.altKey)) return false;
  return [...event.key].length === 1;
}

// A blank typed on a button presses it.
function isPressable(target) {
  return target instanceof Element && target.closest("button, summary, a, input[type=radio], select");
}

function fieldOf(target) {
  const isField = target instanceof HTMLInputElement && /^(text|password)$/.test(target.type);
  return isField ? target : null;
}

function isLayoutKey(event) {
  return /^(Digit2|KeyY|KeyQ|BracketRight)$/.test(event.code);
}

// The computer's layout, from what its keys give where layouts differ.
function layoutOf(event) {
  const key = event.key.toLowerCase();
  if (event.code === "KeyQ" && key === "a") return "azerty";
  if (event.code === "Digit2" && key === "é") return "azerty";
  if (event.code === "KeyY" && key === "z") return "qwertz";
  if (event.code === "KeyY" && key === "y") return "qwerty";
  if (event.code === "KeyQ" && key === "q") return "";
  return "";
}
