// Forms of cards on the operator's page: taught from a photo of an empty card, listed, removed.

import { $, el, svg } from "./nodes.js";
import { Refusal, get, post } from "./service.js";
import { say } from "./texts.js";

const PATIENCE_MS = 30000; // a large photo, read by a busy machine
const FAR_PX = 10;
const PLACES = ["card", "box"];
const MOVES = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

let pass = "";
let forms = [];
let photo = null;
let seen = null; // width, height, and the corners of card and box, px of the photo
let address = "";
let stream = null;

export async function open(own) {
  pass = own;
  await list();
}

export function close() {
  pass = "";
  forms = [];
  drop();
  $("forms-list").replaceChildren();
  $("forms-said").textContent = "";
}

export function draw() {
  if (!pass) return;
  $("forms-list").replaceChildren(
    ...forms.map((one) => {
      const [wide, high] = one.size_mm;
      const what = say("operator.forms.is", { name: one.name, wide, high, kind: say(`operator.forms.kind.${one.kind}`, { cells: one.cells }) });
      const more = one.is_builtin ? el("span", { class: "hint" }, say("operator.forms.builtIn")) : remover(one.name);
      return el("li", {}, el("span", {}, what), " ", more);
    }),
  );
  for (const handle of document.querySelectorAll(".corner")) name(handle);
}

function remover(of) {
  const button = el("button", { type: "button" }, say("operator.forms.remove", { name: of }));
  button.addEventListener("click", () =>
    asked(async () => {
      ({ forms } = await post("operator_forget", { name: of }, { headers: headers() }));
      draw();
      return say("operator.forms.removed", { name: of });
    }),
  );
  return button;
}

async function list() {
  await asked(async () => {
    ({ forms } = await get("operator_forms", { headers: headers() }));
    draw();
    return "";
  });
}

// Does it, and says what came of it or why nothing did.
async function asked(work) {
  const own = pass;
  try {
    const said = await work();
    if (pass === own) $("forms-said").textContent = said;
    return true;
  } catch (problem) {
    const known = problem instanceof Refusal && ["photo", "form", "taken", "malformed"].includes(problem.code);
    $("forms-said").textContent = say(`operator.forms.${known ? problem.code : "lost"}`);
    return false;
  }
}

function headers() {
  return { "X-Counterfoil-Pass": pass };
}

async function take(blob) {
  drop();
  photo = blob;
  $("forms-said").textContent = say("operator.forms.working");
  await asked(async () => {
    seen = await post("operator_propose", blob, { patience: PATIENCE_MS, headers: headers() });
    if (photo !== blob) return "";
    const isFound = seen.card && seen.box;
    seen.card ??= inner(0.1, 0.1, 0.9, 0.9);
    seen.box ??= inner(0.3, 0.6, 0.7, 0.7);
    [$("forms-wide").value, $("forms-high").value] = seen.size_mm ?? ["", ""];
    mark();
    return say(isFound ? "operator.forms.check" : "operator.forms.byHand");
  });
}

function inner(left, top, right, foot) {
  const at = (x, y) => [x * seen.width, y * seen.height];
  return [at(left, top), at(right, top), at(right, foot), at(left, foot)];
}

function drop() {
  photo = null;
  seen = null;
  if (address) URL.revokeObjectURL(address);
  address = "";
  $("forms-marking").replaceChildren();
  $("forms-facts").hidden = true;
  stop();
}

function mark() {
  address = URL.createObjectURL(photo);
  const image = el("img", { src: address, alt: say("operator.forms.alt") });
  const lines = svg("svg", { viewBox: `0 0 ${seen.width} ${seen.height}`, preserveAspectRatio: "none", "aria-hidden": "true" });
  lines.append(...PLACES.map((place) => svg("polygon", { class: `of-${place}` })));
  const handles = PLACES.flatMap((place) => seen[place].map((_, at) => handle(place, at)));
  $("forms-marking").replaceChildren(image, lines, ...handles);
  $("forms-facts").hidden = false;
  place();
}

function handle(place, at) {
  const button = el("button", { type: "button", class: `corner of-${place}`, "data-place": place, "data-at": String(at) });
  name(button);
  button.addEventListener("keydown", (event) => {
    const move = MOVES[event.key];
    if (!move) return;
    event.preventDefault();
    const far = event.shiftKey ? FAR_PX : 1;
    to(place, at, seen[place][at][0] + move[0] * far, seen[place][at][1] + move[1] * far);
  });
  button.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    button.setPointerCapture(event.pointerId);
    button.focus();
  });
  button.addEventListener("pointermove", (event) => {
    if (!button.hasPointerCapture(event.pointerId)) return;
    const frame = $("forms-marking").getBoundingClientRect();
    to(place, at, ((event.clientX - frame.left) / frame.width) * seen.width, ((event.clientY - frame.top) / frame.height) * seen.height);
  });
  return button;
}

function name(button) {
  const { place, at } = button.dataset;
  const [x, y] = seen[place][Number(at)].map((one) => Math.round(one));
  button.setAttribute("aria-label", say("operator.forms.corner", { what: say(`operator.forms.${place}`), which: say(`operator.forms.at.${at}`), x, y }));
}

function to(which, at, x, y) {
  seen[which][at] = [Math.min(seen.width, Math.max(0, x)), Math.min(seen.height, Math.max(0, y))];
  place();
}

function place() {
  for (const button of document.querySelectorAll(".corner")) {
    const [x, y] = seen[button.dataset.place][Number(button.dataset.at)];
    button.style.left = `${(100 * x) / seen.width}%`;
    button.style.top = `${(100 * y) / seen.height}%`;
    name(button);
  }
  for (const one of PLACES) document.querySelector(`polygon.of-${one}`).setAttribute("points", seen[one].map((xy) => xy.join(",")).join(" "));
}

async function keep(event) {
  event.preventDefault();
  if (!seen || !photo) return;
  const form = {
    name: $("forms-name").value.trim(), wide_mm: Number($("forms-wide").value), high_mm: Number($("forms-high").value), card: seen.card, box: seen.box,
  };
  const isKept = await asked(async () => {
    const kept = await post("operator_teach", photo, { patience: PATIENCE_MS, headers: headers(), query: { form: JSON.stringify(form) } });
    ({ forms } = await get("operator_forms", { headers: headers() }));
    draw();
    return say("operator.forms.saved", { name: kept.name });
  });
  if (!isKept) return;
  drop();
  $("forms-name").value = "";
  $("forms-photo").value = "";
  $("forms-photo").focus();
}

// The camera's picture beside the choice of a file: once to begin, once more to take it.
async function camera() {
  const video = $("forms-video");
  if (!stream) {
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 3840 } } });
    } catch {
      $("forms-said").textContent = say("operator.forms.noCamera");
      return;
    }
    video.srcObject = stream;
    video.hidden = false;
    $("forms-camera").textContent = say("operator.forms.shoot");
    return;
  }
  const canvas = el("canvas", { width: video.videoWidth, height: video.videoHeight });
  canvas.getContext("2d").drawImage(video, 0, 0);
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.92));
  stop();
  if (blob) await take(blob);
}

function stop() {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  $("forms-video").srcObject = null;
  $("forms-video").hidden = true;
  $("forms-camera").textContent = say("operator.forms.camera");
}

$("forms-photo").addEventListener("change", () => {
  const [file] = $("forms-photo").files;
  if (file) void take(file);
});
$("forms-camera").addEventListener("click", camera);
$("forms").addEventListener("submit", keep);
