// The operator's page: the day's figures, after the PIN.

import { bars, places } from "./charts.js";
import { setPreferences } from "./preferences.js";
import * as forms from "./forms.js";
import { $, el } from "./nodes.js";
import * as returned from "./returned.js";
import { Refusal, get, post } from "./service.js";
import { findingOf, say } from "./texts.js";

const AGAIN_MS = 30000;

let pass = ""; // lives in this page alone
let days = 1;
let last = null;

async function open(event) {
  event.preventDefault();
  const pin = $("pin").value;
  $("pin").value = "";
  try {
    ({ pass } = await post("operator_open", { pin }));
    $("no").textContent = "";
    $("login").hidden = true;
    $("day").hidden = false;
    $("out").hidden = false;
    await Promise.all([refresh(), forms.open(pass)]);
    document.querySelector("h1").focus();
  } catch (problem) {
    const isSlow = problem instanceof Refusal && problem.status === 429;
    $("no").textContent = say(isSlow ? "operator.slow" : "operator.wrong");
    $("pin").focus();
  }
}

async function close() {
  const own = pass;
  pass = "";
  last = null;
  $("sheets").replaceChildren();
  $("hits").replaceChildren();
  $("sought").value = "";
  returned.clear();
  forms.close();
  $("returned-said").replaceChildren();
  $("login").hidden = false;
  $("day").hidden = true;
  $("out").hidden = true;
  $("pin").focus();
  if (own) await post("operator_close", {}, { headers: { "X-Counterfoil-Pass": own } }).catch(() => {});
}

async function find(event) {
  event.preventDefault();
  const text = $("sought").value.trim();
  const own = pass;
  if (!text || !own) return;
  try {
    const { hits, is_cut: isCut } = await post("operator_find", { text }, { headers: { "X-Counterfoil-Pass": own } });
    if (pass !== own) return;
    const day = (at) => new Date(at).toLocaleDateString(document.documentElement.lang);
    const head = ["since", "answer", "forWhom", "article", "card"].map((name) => say(`operator.${name}`));
    const rows = hits.map((one) => [day(one.at), say(`operator.state.${one.state}`), one.about || "\u2013", number(one.article), number(one.card)]);
    const more = isCut ? el("p", {}, say("operator.findMore")) : null;
    $("hits").replaceChildren(roll(head, rows, 0, say("operator.find")), ...(more ? [more] : []));
  } catch (problem) {
    if (problem instanceof Refusal && problem.status === 401) await close();
    else $("hits").replaceChildren(el("p", {}, say("operator.lost")));
  }
}

async function takeBack(event) {
  event.preventDefault();
  if (!pass) return;
  try {
    await returned.record(pass);
    await refresh(true);
  } catch (problem) {
    if (problem instanceof Refusal && problem.status === 401) await close();
    else $("returned-said").replaceChildren(el("p", {}, say("operator.returnedLost")));
  }
}

async function refresh(isByItself = false) {
  const own = pass;
  if (!own) return;
  try {
    // The page asks by itself every half minute: that keeps nobody logged in.
    const headers = { "X-Counterfoil-Pass": own, ...(isByItself ? { "X-Counterfoil-Poll": "1" } : {}) };
    const found = await get("operator_day", { query: { days }, headers });
    if (pass !== own) return; // closed meanwhile: nothing of the day may come back
    last = found;
    draw();
  } catch (problem) {
    if (problem instanceof Refusal && problem.status === 401) await close();
    else $("fresh").textContent = say("operator.lost");
  }
}

let stirredAt = 0;

function stir() {
  if (!pass || performance.now() - stirredAt < AGAIN_MS) return;
  stirredAt = performance.now();
  void refresh();
}

function draw() {
  if (!last) return;
  const zone = document.documentElement.lang;
  const clock = (text) => new Date(text).toLocaleTimeString(zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const day = (text) => new Date(text).toLocaleDateString(zone);
  const open = new Set([...document.querySelectorAll("details[open]")].map((one) => one.dataset.of));
  $("fresh").textContent = say("operator.fresh", { time: clock(last.at) });
  const op = (name, values) => say(`operator.${name}`, values);
  const { today, stops, unfinished, outstanding, errors } = last;
  const reason = (one) => (one.reason ? findingOf(one.reason) : "");
  const head = ["at", "answer", "article", "card", "reason"].map((name) => op(name));
  const row = (one) => [clock(one.at), say(`answer.${one.advice}`), number(one.article), number(one.card), reason(one)];
  $("sheets").replaceChildren(
    sheet(op("today"), "wide", figures(today), roll(head, today.pieces.map(row), today.left_out, op("today"))),
    sheet(op("stops"), "", ...bars(stops.map(named), op("stops"), [op("kind"), op("count")])),
    sheet(
      op("unfinished"), "", el("p", { class: "hint" }, op("unfinishedSays")),
      el("p", {}, op("inHand", { n: unfinished.in_hand })),
      roll(["entry", "at", "article", "card", "reason"].map((name) => op(name)),
        unfinished.pieces.map((one) => [String(one.entry), clock(one.at), number(one.article), number(one.card), reason(one)]), unfinished.left_out, op("unfinished")),
    ),
    sheet(op("errors"), "", ...bars(errors.kinds.map(named), op("errors"), [op("kind"), op("count")])),
    sheet(op("places"), "", ...errors.places.flatMap((one) => {
      const title = op("placesOf", { n: one.length });
      return [el("h3", {}, title), ...places(one.counts, one.group_sizes, title, [op("place"), op("count")])];
    }), errors.places.length ? null : el("p", { class: "hint" }, op("none"))),
    sheet(
      op("outstanding"), "wide", el("p", {}, op(outstanding.is_cut ? "outstandingMany" : "outstandingSays", { n: outstanding.count })),
      roll(["since", "days", "inquireBy", "article", "card"].map((name) => op(name)),
        outstanding.pieces.map((one) => [day(one.at), String(one.days), one.inquire_by ? day(one.inquire_by) : "\u2013", number(one.article), number(one.card)]), outstanding.left_out, op("outstanding")),
      el("p", { class: "hint" }, op("caution")),
    ),
  );
  document.querySelectorAll("details").forEach((one, index) => {
    one.dataset.of = String(index);
    one.open = open.has(String(index));
  });
}

function named({ code, count }) {
  return [findingOf(code), count];
}

function sheet(title, more, ...parts) {
  const section = el("section", { class: `sheet ${more}`.trim() }, el("h2", {}, title), ...parts);
  section.setAttribute("aria-label", title);
  return section;
}

function figures(today) {
  const one = (name) => el("div", {}, el("dt", {}, say(`operator.${name}`)), el("dd", {}, String(today[name])));
  return el("dl", { class: "figures" }, one("sealed"), one("stopped"), one("looked"));
}

function number(text) {
  return el("span", { class: "number" }, text || "\u2013");
}

function roll(head, rows, leftOut, name) {
  if (!rows.length) return el("p", {}, say("operator.none"));
  const body = rows.map((cells) => el("tr", {}, ...cells.map((cell) => el("td", cell instanceof Element ? { class: "number" } : {}, cell))));
  const table = el("table", {}, el("thead", {}, el("tr", {}, ...head.map((text) => el("th", { scope: "col" }, text)))), el("tbody", {}, ...body));
  const more = leftOut ? el("p", {}, say("operator.more", { n: leftOut })) : null;
  return el("div", { class: "roll", tabindex: "0", role: "group", "aria-label": name }, table, more);
}

for (const button of document.querySelectorAll("[data-days]")) {
  button.addEventListener("click", async () => {
    days = Number(button.dataset.days);
    for (const one of document.querySelectorAll("[data-days]")) {
      one.setAttribute("aria-pressed", String(one === button));
    }
    await refresh();
  });
}
$("login").addEventListener("submit", open);
$("find").addEventListener("submit", find);
$("returned").addEventListener("submit", takeBack);
$("out").addEventListener("click", close);
document.querySelector("h1").tabIndex = -1;
await setPreferences("", () => {
  document.title = `Counterfoil: ${say("operator.title")}`;
  draw();
  forms.draw();
});
document.title = `Counterfoil: ${say("operator.title")}`;
setInterval(() => refresh(true), AGAIN_MS);
// Whoever works on the page stays logged in.
for (const name of ["pointerdown", "keydown"]) window.addEventListener(name, stir, { passive: true });
document.body.dataset.ready = "yes";
