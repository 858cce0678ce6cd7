// How the answers look: each has its own word, shape, sign and sound; color comes last.

import { el, svg } from "./nodes.js";
import { finding, say } from "./texts.js";

// Draws an answer into `node`; gives the sentences for the live region.
export function show(node, piece) {
  const spoken = [say(`answer.${piece.advice}`)];
  node.dataset.answer = piece.advice;
  const word = el("p", { class: "word" }, sign(piece.advice), el("span", {}, say(`answer.${piece.advice}`)));
  const says = reasons(piece);
  spoken.push(...says);
  const parts = [word, ...says.map((text) => el("p", { class: "says" }, text))];
  if (piece.columns.length) parts.push(digits(piece));
  node.replaceChildren(...parts);
  return spoken;
}

export function clear(node) {
  node.dataset.answer = "none";
  node.replaceChildren();
}

function reasons(piece) {
  if (piece.advice === "lost") return [say("answer.lostSays")];
  if (!piece.verdict) return [say(`answer.${piece.advice}Says`)];
  if (piece.advice === "seal") {
    const path = piece.is_repeated ? "answer.sealAgain" : "answer.sealSays";
    return [say(path, { entry: piece.entry }), ...notes(piece)];
  }
  const wrong = piece.findings.filter((one) => one.weight !== "note");
  const clashes = wrong.filter((one) => one.weight === "clash");
  const told = (clashes.length ? clashes : wrong).slice(0, 3).map(finding);
  const where = differs(piece);
  if (where) told.push(where);
  if (!told.length) told.push(say("answer.unread"));
  const recorded = piece.entry ? [say("answer.recorded", { entry: piece.entry })] : [];
  const first = [say(`answer.${piece.advice}Says`), ...recorded].join(" ");
  return [...new Set([first, ...told])];
}

// What whoever seals must have seen: that numbers were keyed, that label or card was stopped
// before, and that the label is of a service for another kind of piece.
const TOLD_SEALED = /-(keyed|stopped-before|kind-odd)$/;

function notes(piece) {
  const told = piece.findings.filter((one) => TOLD_SEALED.test(one.code)).map(finding);
  return piece.written_by === "keyed" ? [say("answer.keyed"), ...told] : told;
}

// "Differs at group 4, digit 2: label 5, box 3."
function differs(piece) {
  const places = differing(piece);
  if (!places.length || places.length > 6) return "";
  const groups = [...new Set(places.map((place) => place.group))];
  // Digits of several groups side by side would read like one number; both
  // numbers are shown one above the other.
  if (groups.length > 1) return say("differsInGroups", { groups: listed(groups) });
  const [group] = groups;
  const place =
    places.length === 1
      ? say("place.digit", { group, digit: places[0].digit })
      : say("place.digits", { group, digits: listed(places.map((one) => one.digit)) });
  const label = places.map((one) => one.label).join("") || say("missing");
  const box = places.map((one) => one.box).join("") || say("missing");
  return say("differs", { place, label, box });
}

function listed(items) {
  if (items.length < 2) return items.join("");
  return `${items.slice(0, -1).join(", ")} ${say("place.and")} ${items.at(-1)}`;
}

function differing(piece) {
  const found = [];
  for (const [index, group] of grouped(piece).entries()) {
    let digit = 0;
    for (const [label, box] of group) {
      if (label !== null) digit += 1;
      if (label !== box) {
        found.push({ group: index + 1, digit: Math.max(1, digit), label: label ?? "", box: box ?? "" });
      }
    }
  }
  return found;
}

// Columns cut into the label's printed groups; the last size repeats.
function grouped(piece) {
  const groups = [[]];
  let size = 0;
  let inGroup = 0;
  for (const column of piece.columns) {
    const wanted = piece.group_sizes[Math.min(size, piece.group_sizes.length - 1)] || 4;
    if (column[0] !== null && inGroup === wanted) {
      groups.push([]);
      size += 1;
      inGroup = 0;
    }
    groups.at(-1).push(column);
    if (column[0] !== null) inGroup += 1;
  }
  return groups;
}

function digits(piece) {
  const rows = ["label", "box"].map((side, index) => [
    el("dt", {}, say(`sides.${side}`)),
    el("dd", {}, ...grouped(piece).map((group) => el("span", { class: "group" }, ...group.map((column) => digit(column, index))))),
  ]);
  const list = el("dl", { class: "digits" }, ...rows.flat());
  return el("section", { class: "numbers", "aria-label": say("table") }, list);
}

function digit(column, index) {
  const char = column[index] ?? "\u2013";
  return column[0] === column[1] ? char : el("mark", {}, char);
}

// Signs: a closed slip with a seal; a slip torn in two; a slip with a turn-back arrow; a speech
// bubble; closed slips in a pile; a ruled page with a line left empty.
export function sign(answer) {
  const shapes = {
    seal: [
      ["path", { d: "M8 24h84v56H8z", class: "body" }],
      ["path", { d: "M8 24l42 32 42-32", class: "line" }],
      ["path", { d: scallop(50, 56, 17, 15), class: "full" }],
    ],
    stop: [
      ["path", { d: "M8 18h36l-8 13 9 13-9 13 8 13H8z", class: "body" }],
      ["path", { d: "M92 30H60l-8 13 9 13-9 13 8 13h32z", class: "body" }],
      ["path", { d: "M16 32h14M16 44h12M70 46h14M70 60h12", class: "line" }],
    ],
    look: [
      ["path", { d: "M14 22h72v44H14z", class: "dash" }],
      ["path", { d: "M70 84a24 24 0 1 1 4-40", class: "line" }],
      ["path", { d: "M62 36l16 8-12 13z", class: "full" }],
    ],
    ask: [
      ["path", { d: "M14 14h72v56H44l-18 18V70H14z", class: "dash" }],
      ["path", { d: "M34 32h32M34 48h20", class: "line" }],
    ],
    done: [
      ["path", { d: "M8 28h84v52H8z", class: "line" }],
      ["path", { d: "M8 28l42 30 42-30", class: "line" }],
      ["path", { d: "M20 14h60M28 6h44", class: "line" }],
    ],
    lost: [
      ["path", { d: "M14 14h72v72H14z", class: "dash" }],
      ["path", { d: "M26 32h48M26 68h48", class: "line" }],
      ["path", { d: "M26 50h8M46 50h8M66 50h8", class: "line" }],
    ],
  }[answer];
  return svg(
    "svg",
    { viewBox: "0 0 100 100", class: "figure", "aria-hidden": "true", focusable: "false" },
    ...shapes.map(([name, attributes]) => svg(name, attributes)),
  );
}

function scallop(x, y, far, near) {
  const points = [];
  for (let step = 0; step < 24; step += 1) {
    const r = step % 2 ? near : far;
    const angle = (step / 24) * 2 * Math.PI;
    points.push(`${(x + r * Math.cos(angle)).toFixed(1)} ${(y + r * Math.sin(angle)).toFixed(1)}`);
  }
  return `M${points.join("L")}z`;
}
