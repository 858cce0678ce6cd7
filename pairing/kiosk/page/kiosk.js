// The kiosk's page: what arrives from scanner, keys and camera goes to the service; its answers
// are shown, said and sounded.

import { clear, show } from "/page/answers.js";
import { Camera } from "/page/camera.js";
import { Capture } from "/page/capture.js";
import { dress } from "/page/dress.js";
import { Idle } from "/page/idle.js";
import { Keying } from "/page/keying.js";
import { $, el } from "/page/nodes.js";
import { Outbox } from "/page/outbox.js";
import { get } from "/page/service.js";
import { play } from "/page/sounds.js";
import { finding, say } from "/page/texts.js";

const SIDES = ["label", "card", "box"];

const state = {
  missing: [...SIDES],
  keyed: new Set(),
  stripNext: false,
  mayLackCard: false,
  isLost: false,
  isWaiting: false,
  isFinished: false,
  remarks: [],
  shown: null, // the finished piece on the screen
  entries: 0, // made on this page so far
  before: "", // what became of the piece before, where its answer had to make room
  note: "",
};

const outbox = new Outbox({
  onBegun: (place) => ($("desk").textContent = say("desk", { desk: place.desk })),
  onAnswer: answered,
  onLost: lost,
  onSlow: () => {
    state.isWaiting = true;
    draw();
  },
  onRefused: (refusal) => {
    state.isWaiting = false;
    remark([{ code: refusal.code, message: refusal.message }]);
    draw();
  },
});

const camera = new Camera({
  video: $("video"),
  outlines: $("outlines"),
  says: $("eye-says"),
  send: (picture) => outbox.put("frame", "", { picture }),
  isFree: () => !outbox.isBusy && !outbox.isLost && !outbox.queue.length && !keying.isOpen,
  asksBox: () => keying.open("box", say("camera.asksBox")),
});

let idle = null;

function put(kind, text, more) {
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
  state.isFinished = false;
  state.remarks = [];
}

function answered(answer, entry) {
  state.isLost = false;
  state.isWaiting = false;
  // A picture in which nothing new was seen says nothing about a next piece.
  const isNews = !entry.picture || answer.heard.length > 0;
  if (entry.picture && !isNews && state.isFinished) return seen(answer);
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
  remark([...(entry.remarks ?? []), ...answer.remarks]);
  if (entry.picture) camera.answered(answer);
  if (answer.finished.length) finished(answer.finished.at(-1));
  else if (answer.missing.length < before) play("tick");
  draw();
  if (!answer.finished.length) speak();
  if (isOnly("box") && !camera.isOn && !state.stripNext && !answer.finished.length) keying.open("box");
}

// The finished piece still lies before the camera, and its answer stays.
function seen(answer) {
  camera.answered(answer);
  draw();
}

// Somebody scanned on before the answer was there. It must not stand beside the next piece, and
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
  keying.close();
  sayAloud(show($("answer"), piece).join(" "));
  play(piece.advice);
}

function lost() {
  const isNews = !state.isLost;
  state.isLost = true;
  state.isWaiting = false;
  keying.close();
  draw();
  if (!isNews) return;
  sayAloud(show($("answer"), NOTHING_RECORDED).join(" "));
  play("lost");
}

const NOTHING_RECORDED = {
  advice: "lost", columns: [], group_sizes: [], findings: [], entry: null, written_by: null,
};

function remark(found) {
  state.remarks = [...new Map(found.map((one) => [one.code + one.message, one])).values()];
}

function isOnly(side) {
  return state.missing.length === 1 && state.missing[0] === side;
}

function todo() {
  if (state.isLost) return say("todo.offline");
  if (state.isWaiting) return say("todo.wait");
  if (state.isFinished) return say("todo.next");
  if (state.stripNext) return say("todo.strip");
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
  const list = $("remarks");
  const more = [state.before, state.note].filter(Boolean);
  const items = [...state.remarks.map(finding), ...more].map((text) => el("li", {}, text));
  list.hidden = !items.length;
  list.replaceChildren(...items);
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
  sayAloud([state.before, ...state.remarks.map(finding), todo()].join(" "));
}

function sayAloud(text) {
  // The same text twice in a row is news again.
  $("voice").textContent = $("voice").textContent === text ? `${text}\u00a0` : text;
}

function notice(text) {
  if (state.note === text) return;
  state.note = text;
  draw();
  sayAloud(text);
  setTimeout(() => {
    if (state.note === text) state.note = "";
    draw();
  }, 6000);
}

// --- Keyed entry -------------------------------------------------------------------------

const keying = new Keying({
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

// The side that somebody most likely wants to key now.
function sideToKey() {
  if (isOnly("box") || !state.missing.length) return "box";
  return state.missing[0];
}

// --- Scans -------------------------------------------------------------------------------

function scanned({ text, caps, layout }) {
  idle?.stir();
  const remarks = [];
  if (caps && /[a-z]/i.test(text)) remarks.push({ code: "page-caps", message: say("layout.caps") });
  if (layout === "qwertz" && /[yz]/i.test(text)) {
    remarks.push({ code: "page-qwertz", message: say("layout.qwertz") });
  }
  put("scan", text, { remarks });
}

function wipe() {
  outbox.leave();
  newPiece();
  state.before = "";
  state.isLost = false;
  state.isWaiting = false;
  state.shown = null;
  clear($("answer"));
  keying.close();
  camera.forget();
}

function start() {
  new Capture({
    onScan: scanned,
    onKey: (char) => /[0-9]/.test(char) && !state.note && notice(say("keying.loose")),
    onStuck: () => notice(say("keying.stuck")),
  });
  $("do-key").addEventListener("click", () => keying.open(sideToKey()));
  $("do-strip").addEventListener("click", () => put("strip"));
  $("do-next").addEventListener("click", () => put("next"));
  $("do-again").addEventListener("click", () => {
    if (outbox.isLost) wipe();
    else put("again");
    draw();
  });
  $("do-camera").addEventListener("click", toggleCamera);
  $("do-sound").addEventListener("click", hear);
  idle = new Idle({
    hasNumbers: () => outbox.piece.length > 0 || outbox.queue.length > 0 || state.shown !== null || keying.hasText,
    box: $("idle"),
    says: $("idle-says"),
    stay: $("idle-stay"),
    onOver: () => {
      const wasHalf = outbox.piece.length > 0;
      wipe();
      draw();
      if (wasHalf) notice(say("idle.gone"));
    },
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
  ["seal", "stop", "look"].forEach((answer, index) => setTimeout(() => play(answer), index * 1100));
}

async function main() {
  start();
  let place = { language: "", idle_s: 60, desk: "" };
  try {
    place = await get("/kiosk/place");
  } catch {
    // The first scan will say so.
  }
  await dress(place.language, () => {
    if (state.shown) show($("answer"), state.shown);
    draw();
    $("desk").textContent = say("desk", { desk: place.desk });
  });
  $("desk").textContent = say("desk", { desk: place.desk });
  document.title = say("title");
  idle.begin(place.idle_s);
  draw();
  document.body.dataset.ready = "yes";
}

void main();
