// Bars that are taken in at a glance, each with the same figures as a table below.

import { el, svg } from "./nodes.js";
import { say } from "./texts.js";

// rows: [[name, count]], most first. Lying bars; the longest has a hue of its own.
export function bars(rows, title, head) {
  if (!rows.length) return [el("p", { class: "hint" }, say("operator.none"))];
  const most = Math.max(...rows.map(([, count]) => count));
  const height = 46;
  const width = 620;
  const picture = svg("svg", {
    viewBox: `0 0 ${width} ${rows.length * height}`, class: "chart", role: "img",
    "aria-label": `${title}: ${rows.map(([name, count]) => `${name} ${count}`).join("; ")}`,
  });
  rows.forEach(([name, count], index) => {
    const y = index * height;
    const long = Math.max(4, (count / most) * (width - 70));
    picture.append(
      svg("text", { x: 0, y: y + 16 }, cut(name)),
      svg("rect", { x: 0, y: y + 22, width: long, height: 16, class: index ? "bar" : "bar top" }),
      svg("text", { x: long + 8, y: y + 36 }, String(count)),
    );
  });
  return [picture, table(rows, head)];
}

// counts: one a place of the number, in order; groups: the printed grouping's sizes.
export function places(counts, groups, title, head) {
  const most = Math.max(...counts, 1);
  const [step, gap, tall] = [22, 12, 120];
  const starts = placeStarts(counts.length, groups, step, gap);
  const width = starts.at(-1) + step;
  const told = counts.flatMap((count, index) => (count ? [`${index + 1}: ${count}`] : []));
  const picture = svg("svg", {
    viewBox: `0 0 ${width} ${tall + 44}`, class: "chart", role: "img",
    "aria-label": `${title}: ${told.join("; ")}`,
  });
  counts.forEach((count, index) => {
    const x = starts[index];
    const high = (count / most) * tall;
    picture.append(svg("rect", { x: x + 1, y: 20, width: step - 2, height: tall, class: "slot" }));
    if (count) {
      const name = count === most ? "bar top" : "bar";
      picture.append(
        svg("rect", { x: x + 1, y: 20 + tall - high, width: step - 2, height: high, class: name }),
        svg("text", { x: x + step / 2, y: 14 + tall - high, "text-anchor": "middle" }, String(count)),
      );
    }
    picture.append(svg("text", { x: x + step / 2, y: tall + 38, "text-anchor": "middle" }, String(index + 1)));
  });
  const rows = counts.flatMap((count, index) => (count ? [[String(index + 1), count]] : []));
  return [picture, table(rows, head)];
}

function placeStarts(length, groups, step, gap) {
  const starts = [];
  let x = 0;
  let inGroup = 0;
  let group = 0;
  for (let index = 0; index < length; index += 1) {
    const size = groups[Math.min(group, groups.length - 1)] || length;
    if (inGroup === size) {
      x += gap;
      inGroup = 0;
      group += 1;
    }
    starts.push(x);
    x += step;
    inGroup += 1;
  }
  return starts;
}

function table(rows, head) {
  return el(
    "details",
    {},
    el("summary", {}, say("operator.asTable")),
    el(
      "table",
      {},
      el("thead", {}, el("tr", {}, ...head.map((text) => el("th", { scope: "col" }, text)))),
      el("tbody", {}, ...rows.map(([name, count]) => el("tr", {}, el("th", { scope: "row" }, name), el("td", {}, String(count))))),
    ),
  );
}

function cut(name) {
  return name.length > 74 ? `${name.slice(0, 73)}…` : name;
}
