// The kiosk's page: what arrives from scanner, keys and camera goes to the service; its answers
// are shown, said and sounded.

import { clear, show } from "./answers.js";
import { Camera } from "./camera.js";
import { Capture } from "./capture.js";
import { setPreferences } from "./preferences.js";
import { Idle } from "./idle.js";
import { Keying } from "./keying.js";
import { $, el } from "./nodes.js";
import { Outbox } from "./outbox.js";
import { get } from "./service.js";
import { Pad } from "./pad.js";
import { play } from "./sounds.js";
import { finding, say } from "./texts.js";
import { Whom } from "./whom.js";

const SIDES = ["label", "card", "box"];
// Barcodes of the printed sheet (pairing/kiosk/command_sheet.py).
const COMMANDS = {
  "COUNTERFOIL-STRIP": "do-strip",
  "COUNTERFOIL-AGAIN": "do-again",
  "COUNTERFOIL-NEXT": "do-next",
  "COUNTERFOIL-ASIDE": "do-aside",
};
const KINDS = ["letter", "flat", "parcel"]; // pairing/desk/piece_kind.py
const HELD = ["stop", "look", "ask"]; // answers that are left by a deliberate act

const state = {
  missing: [...SIDES],
  keyed: new Set(),
  stripNext: false,
  mayLackCard: false,
  asksKind: false, // whether it is still to be said what this piece, or the one just sealed, is
  isLost: false,
  isWaiting: false,
  isFinished: false,
  held: "", // one of HELD: a piece that is not sealed waits for a deliberate act
  remarks: [],
  refusal: null, // what the last scan was refused for: {texts, offersStrip}
  shown: null, // the finished piece on the screen
  entries: 0, // made on this page so far
  before: "", // what became of the piece before, where its answer had to make room
  note: "",
};

const outbox = new Outbox({
  onBegun: (place) => ($("desk").textContent = deskName(place.desk)),
  onAnswer: answered,
  onLost: lost,
  onSlow: () => {
    state.isWaiting = true;
    draw();
  },
  onRefused: (refusal) => {
    state.isWaiting = false;
    refuse([finding({ code: refusal.code, message: refusal.message })]);
    draw();
  },
});

const camera = new Camera({
  video: $("video"),
  outlines: $("outlines"),
  says: $("eye-says"),
  send: (picture) => !state.held && outbox.put("frame", "", { picture }),
  isFree: () => !outbox.isBusy && !outbox.isLost && !outbox.queue.length && !keying.isOpen && !whom.isOpen && !state.held,
  asksBox: () => keying.open("box", say("camera.asksBox")),
});

let idle = null;
let pad = null;
let capture = null;

function put(kind, text, more) {
  if (state.held) return;
  state.refusal = null;
  if (state.isFinished) newPiece();
  if (!state.isLost) {
    clear($("answer"));
    state.shown = null;
  }
  outbox.put(kind, text, more);
  state.entries += 1;
  $("main").dataset.entries = state.entries;
  $("main").setAttribute("aria-busy", String(!state.isLost));
}

function newPiece() {
  state.missing = [...SIDES];
  state.keyed.clear();
  state.stripNext = false;
  state.mayLackCard = false;
  state.asksKind = false;
  state.isFinished = false;
  state.remarks = [];
  state.refusal = null;
}

function answered(answer, entry) {
  state.isLost = false;
  state.isWaiting = false;
  if (entry.about) return told(answer, entry);
  // A picture in which nothing new was seen says nothing about a next piece.
  const isNews = !entry.picture || answer.heard.length > 0;
  if (!isNews && !answer.finished.length) return seen(answer);
  if (state.isFinished && !answer.finished.length && entry.kind !== "again") putAside();
  const before = state.missing.length;
  state.missing = answer.missing;
  state.stripNext = answer.strip_next;
  state.mayLackCard = answer.may_lack_card;
  // What somebody is keying stays, whatever is scanned meanwhile.
  if (answer.heard.some((one) => one.counts && one.how === "keyed")) keying.close();
  for (const one of answer.heard) {
    if (one.counts && one.how === "keyed") state.keyed.add(one.side);
    else if (one.counts) state.keyed.delete(one.side);
  }
  if (entry.kind === "again") newPiece();
  const said = new Set(answer.remarks.map((one) => one.code));
  state.asksKind ||= said.has("piece-kind") && !said.has("known-sealed");
  remark([...(entry.remarks ?? []), ...answer.remarks.filter((one) => one.code !== "piece-kind")]);
  if (entry.picture) camera.answered(answer);
  const isRefused = !entry.picture && !answer.finished.length && refusesScan(answer, entry);
  if (answer.finished.length) finished(answer.finished.at(-1));
  else if (isRefused) refuse(state.remarks.splice(0).map(finding), { offersStrip: offersStrip(answer) });
  else if (answer.missing.length < before) play("tick");
  if (state.stripNext) keying.close();
  draw();
  if (!answer.finished.length && !isRefused) speak();
  if (isOnly("box") && !camera.isOn && !state.stripNext && !answer.finished.length && !isRefused) keying.open("box");
}

// For whom the piece is was taken; what is on the screen stays.
function told(answer, { about }) {
  if (about.piece) state.asksKind = false;
  if (!state.isFinished) state.missing = answer.missing;
  remark(answer.remarks);
  if ($("answer").dataset.answer === "lost") clear($("answer"));
  if (answer.remarks.some((one) => one.code === "reference-is-number")) refuse(state.remarks.splice(0).map(finding));
  draw();
  speak();
}

// Something came, and nothing of it counts.
function refusesScan(answer, entry) {
  const isEntry = ["scan", "strip", "label", "card", "box"].includes(entry.kind) && entry.text;
  const isNoise = answer.remarks.every((one) => ["double-read", "recorded"].includes(one.code));
  return isEntry && answer.remarks.length > 0 && !isNoise && !answer.heard.some((one) => one.counts);
}

// A label's number came while only the box is missing: it may be the strip.
function offersStrip(answer) {
  const asked = /^(double-read|strip-or-next)/;
  return isOnly("box") && answer.remarks.some((one) => asked.test(one.code));
}

function refuse(texts, { offersStrip = false } = {}) {
  state.refusal = { texts, offersStrip };
  play("refused");
  sayAloud([say("refused.title"), ...texts, todo()]);
}

// Nothing new is before the camera: what is on the screen stays, and nothing is said again.
function seen(answer) {
  camera.answered(answer);
  draw();
}

// Somebody scanned on before the answer was there. It must not be shown with the next piece, and
// must not be lost either.
function putAside() {
  const piece = state.shown;
  newPiece();
  clear($("answer"));
  state.shown = null;
  if (piece) state.before = say("answer.before", { answer: say(`answer.${piece.advice}`) });
}

function finished(piece) {
  state.before = "";
  state.isFinished = state.missing.length === SIDES.length;
  state.shown = piece;
  state.refusal = null;
  state.asksKind &&= piece.advice === "seal";
  keying.close();
  if (whom.isOpen && !whom.of) {
    if (piece.advice === "seal") whom.open(piece.entry);
    else whom.close();
  }
  remember(piece);
  if (HELD.includes(piece.advice)) hold(piece.advice);
  sayAloud(show($("answer"), piece));
  play(piece.advice);
}

// The piece on the screen is not sealed. Whoever follows the page with Enter must not begin the
// next piece with what was read on this one, so only two buttons lead on.
function hold(advice) {
  state.held = advice;
  state.isFinished = true;
  if (outbox.queue.some((one) => one.text)) state.remarks.push({ code: "scanned-on", message: "" });
  outbox.drop();
  leaveFocus();
}

// again: the same piece may be shown to the camera once more.
function release({ again = false } = {}) {
  const isServiceDone = state.missing.length === SIDES.length;
  state.held = "";
  state.shown = null;
  clear($("answer"));
  newPiece();
  keep();
  if (!isServiceDone || (again && camera.isOn)) put("again");
}

// What became of the last piece, without its digits: a page that is loaded again still tells it.
function remember({ advice, entry, at }) {
  keep(entry ? { advice, entry, at } : null);
}

function keep(last = null) {
  try {
    if (last) sessionStorage.setItem("counterfoil.last", JSON.stringify(last));
    else sessionStorage.removeItem("counterfoil.last");
  } catch {
    // A browser that keeps nothing tells nothing.
  }
}

function recall() {
  let last = null;
  try {
    last = JSON.parse(sessionStorage.getItem("counterfoil.last"));
  } catch {
    return;
  }
  if (!last) return;
  const time = new Date(last.at).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  state.before = say("answer.recalled", { entry: last.entry, time, answer: say(`answer.${last.advice}`) });
  if (!HELD.includes(last.advice)) return;
  state.shown = { ...NOTHING, advice: last.advice, entry: last.entry };
  show($("answer"), state.shown);
  hold(last.advice);
}

// A scanner that ends a scan twice presses what has the focus: no action ever keeps it.
function leaveFocus() {
  const focused = document.activeElement;
  if (focused instanceof HTMLElement && focused.closest("button, a, summary")) focused.blur();
}

function lost() {
  const isNews = !state.isLost;
  state.isLost = true;
  state.isWaiting = false;
  keying.close();
  draw();
  if (!isNews) return;
  sayAloud(show($("answer"), NOTHING));
  play("lost");
}

const NOTHING = {
  advice: "lost", read: [], columns: [], group_sizes: [], findings: [], entry: null, written_by: null,
};

function remark(found) {
  state.remarks = [...new Map(found.map((one) => [one.code + one.message, one])).values()];
}

function isTold(code) {
  return state.remarks.some((one) => one.code === code);
}

function isOnly(side) {
  return state.missing.length === 1 && state.missing[0] === side;
}

function todo() {
  if (state.isLost) return say("todo.offline");
  if (state.isWaiting) return say("todo.wait");
  if (whom.isOpen) return whom.title;
  if (state.held) return say(`todo.${state.held}`);
  if (state.isFinished) return say("todo.next");
  if (state.stripNext) return say("todo.strip");
  if (isTold("known-sealed")) return say("todo.known");
  if (isTold("not-listed")) return say("todo.unlisted");
  if (isOnly("box")) return say("todo.box");
  if (state.mayLackCard) return say(state.missing.includes("box") ? "todo.cardless" : "todo.end");
  if (!state.missing.includes("label") && state.missing.includes("card")) return say("todo.card");
  if (state.missing.includes("label") && !state.missing.includes("card")) return say("todo.label");
  return say("todo.any");
}

function draw() {
  $("todo").textContent = todo();
  $("main").setAttribute("aria-busy", String(outbox.queue.length > 0 && !state.isLost));
  for (const side of SIDES) drawSlot(side);
  $("do-strip").setAttribute("aria-pressed", String(state.stripNext));
  $("main").dataset.held = state.held;
  drawActions();
  const { refusal } = state;
  $("refused").hidden = !refusal;
  $("refused-says").replaceChildren(...(refusal?.texts ?? []).map((text) => el("p", {}, text)));
  $("refused-strip").hidden = !refusal?.offersStrip;
  const list = $("remarks");
  const more = [state.before, state.note].filter(Boolean);
  // What the headline says is not said twice.
  const asked = state.asksKind ? [say("kind.ask")] : [];
  const told = [...asked, ...state.remarks.map(finding), ...more].filter((text) => text !== todo());
  const items = told.map((text) => el("li", {}, text));
  list.hidden = !items.length;
  list.replaceChildren(...items);
}

// Two actions at most for the moment; the others wait in the menu. While a piece is held there
// are no others.
function drawActions() {
  $("kind").hidden = !state.asksKind;
  const isBegun = state.missing.length < SIDES.length || state.stripNext || outbox.piece.length > 0;
  const fit = state.held
    ? (state.held === "look" ? ["do-again", "do-aside"] : ["do-aside", "do-again"])
    : !isBegun || state.isFinished
      ? ["do-key"]
      : isOnly("box")
        ? ["do-strip", "do-again"]
        : state.mayLackCard && isOnly("card")
          ? ["do-next", "do-again"]
          : ["do-key", "do-again"];
  if (isTold("for-whom") || isTold("for-whom-entry")) fit.splice(0, fit.length, "do-whom", fit[0]);
  const others = state.held ? [] : ["do-key", "do-strip", "do-whom", "do-next", "do-again"].filter((id) => !fit.includes(id));
  place($("actions"), fit);
  place($("menu-actions"), others);
  const shown = new Set([...fit, ...others]);
  for (const id of ["do-aside", "do-key", "do-strip", "do-whom", "do-next", "do-again"]) $(id).hidden = !shown.has(id);
}

function place(where, ids) {
  if ([...where.children].filter((one) => !one.hidden).map((one) => one.id).join() === ids.join()) return;
  where.append(...ids.map((id) => $(id)));
}

function drawSlot(side) {
  const slot = $(`slot-${side}`);
  const isRead = !state.missing.includes(side) || (state.isFinished && state.shown?.read.includes(side));
  const isKeyed = state.keyed.has(side);
  const name = isRead ? (isKeyed ? "keyed" : "read") : isOnly(side) ? "asked" : "wanted";
  slot.dataset.state = name;
  $(`howto-${side}`).dataset.state = name;
  slot.querySelector(".state").textContent = say(`state.${name}`);
}

function speak() {
  const asked = state.asksKind ? say("kind.ask") : "";
  sayAloud([state.before, asked, ...state.remarks.map(finding), todo()]);
}

// Sentence by sentence: without a stop between them a screen reader runs them together.
function sayAloud(sentences) {
  const told = [...new Set(sentences.filter(Boolean))];
  const text = told.map((one) => (/[.!?…]$/.test(one) ? one : `${one}.`)).join(" ");
  // The same text twice in a row is news again.
  $("voice").textContent = $("voice").textContent === text ? `${text}\u00a0` : text;
}

function notice(text) {
  if (state.note === text) return;
  state.note = text;
  draw();
  sayAloud([text]);
  setTimeout(() => {
    if (state.note === text) state.note = "";
    draw();
  }, 6000);
}

// --- Keyed entry -------------------------------------------------------------------------

const keying = new Keying({
  tookSteadyKeys: () => capture.tookSteadyKeys(),
  onNumber: (side, text) => put(side, text),
  onRefused: notice,
  onOpen: () => {
    // Whoever reads the box must not have a number before their eyes.
    clear($("answer"));
    state.shown = null;
    camera.cover(true);
  },
  onClose: () => camera.cover(false),
});

function tell(about, of) {
  outbox.put("about", "", { about, of });
  state.entries += 1;
  $("main").dataset.entries = state.entries;
  draw();
}

// The entry of the piece that is sealed on the screen; null for the piece in hand.
function sealed() {
  return state.shown?.advice === "seal" ? state.shown.entry : null;
}

const whom = new Whom({
  onTold: tell,
  onOpen: () => {
    keying.close();
    state.refusal = null;
    draw();
  },
  onClose: draw,
});

// Only the box is ever chosen for the person: a number keyed for the wrong side becomes another
// piece.
function sideToKey() {
  return isOnly("box") ? "box" : "";
}

// --- Scans -------------------------------------------------------------------------------

function scanned({ text, caps, layout }) {
  idle?.stir();
  leaveFocus();
  const command = COMMANDS[text.trim().toUpperCase()];
  if (command) return press(command);
  if (whom.isOpen) return whom.scanned(text);
  if (state.held) {
    refuse([say(`refused.${state.held}`)]);
    draw();
    return;
  }
  const remarks = [];
  if (caps && /[a-z]/i.test(text)) remarks.push({ code: "page-caps", message: say("layout.caps") });
  if (layout === "qwertz" && /[yz]/i.test(text)) {
    remarks.push({ code: "page-qwertz", message: say("layout.qwertz") });
  }
  put("scan", text, { remarks });
}

// A barcode of the printed sheet stands for its button, where that button is there to be pressed.
function press(id) {
  if (!$(id).hidden) return $(id).click();
  refuse([say("refused.command")]);
  draw();
}

function wipe() {
  outbox.leave();
  newPiece();
  state.before = "";
  state.held = "";
  state.isLost = false;
  state.isWaiting = false;
  state.shown = null;
  clear($("answer"));
  keying.close();
  whom.close();
  camera.forget();
}

function start() {
  capture = new Capture({
    onScan: scanned,
    onKey: (char) => /[0-9]/.test(char) && !state.note && !state.held && notice(say("keying.loose")),
    onStuck: () => notice(say("keying.stuck")),
  });
  on("do-key", () => {
    state.refusal = null; // whoever presses this has read it
    draw();
    keying.open(sideToKey());
  });
  on("do-strip", () => put("strip"));
  on("do-whom", () => whom.open(sealed()));
  for (const kind of KINDS) {
    on(`kind-${kind}`, () => {
      state.asksKind = false;
      tell({ piece: kind }, sealed());
    });
  }
  on("refused-strip", () => put("strip"));
  on("do-next", () => put("next"));
  on("do-aside", () => {
    release();
    draw();
    speak();
  });
  on("do-again", () => {
    keying.close();
    whom.close();
    if (state.held) {
      release({ again: true });
      state.remarks = [{ code: "starts-over", message: "" }];
    } else if (outbox.isLost) wipe();
    else put("again");
    draw();
    speak();
  });
  on("do-camera", toggleCamera);
  on("eye-close", () => camera.stop());
  on("do-sound", hear);
  pad = new Pad();
  on("do-pad", () => pad.toggle());
  idle = new Idle({
    hasNumbers: () => outbox.piece.length > 0 || outbox.queue.length > 0 || Boolean(state.shown?.columns.length) || keying.hasText || whom.hasText,
    box: $("idle"),
    says: $("idle-says"),
    stay: $("idle-stay"),
    onOver: () => {
      const wasHalf = outbox.piece.length > 0;
      const { held } = state;
      wipe();
      if (held) restore(held);
      draw();
      if (wasHalf) notice(say("idle.gone"));
    },
  });
}

// Many a desk is called "desk 1" already.
function deskName(name) {
  return /^desk\b/i.test(name) ? name : say("desk", { desk: name });
}

function on(id, act) {
  $(id).addEventListener("click", (event) => {
    event.currentTarget.blur();
    $("menu").open = false;
    void act();
  });
}

async function toggleCamera() {
  const isOn = await camera.toggle();
  $("do-camera").setAttribute("aria-pressed", String(isOn));
  $("do-camera").textContent = say(isOn ? "actions.cameraOff" : "actions.camera");
  $("do-camera").dataset.text = isOn ? "actions.cameraOff" : "actions.camera";
  draw();
}

function hear() {
  ["seal", "stop", "look", "refused"].forEach((answer, index) => setTimeout(() => play(answer), index * 1100));
}

// The numbers of a stopped piece are wiped; that it is not to be sealed stays.
function restore(held) {
  state.shown = { ...NOTHING, advice: held };
  show($("answer"), state.shown);
  hold(held);
}

async function main() {
  start();
  let place = { language: "", idle_s: 60, desk: "" };
  try {
    place = await get("kiosk_place");
  } catch {
    // The first scan will say so.
  }
  await setPreferences(place.language, () => {
    pad.draw();
    if (state.shown) show($("answer"), state.shown);
    draw();
    $("desk").textContent = deskName(place.desk);
  });
  $("desk").textContent = deskName(place.desk);
  document.title = say("title");
  pad.draw();
  whom.asksKind = Boolean(place.asks_kind);
  recall();
  idle.begin(place.idle_s);
  draw();
  document.body.dataset.ready = "yes";
}

void main();
