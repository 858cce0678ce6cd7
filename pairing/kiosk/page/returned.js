// A card that came back, on the operator's page: recorded, and what it is worth.

import { $, el } from "./nodes.js";
import { post } from "./service.js";
import { finding, say } from "./texts.js";

const FIELDS = ["card", "box", "signed", "date", "name"];

export function clear() {
  for (const name of FIELDS) $(`returned-${name}`).value = "";
}

export async function record(pass) {
  const [card, box, signed, date, name] = FIELDS.map((field) => $(`returned-${field}`).value.trim());
  if (!card && !box) return;
  const isSigned = signed ? signed === "yes" : null;
  const body = { card, box, is_signed: isSigned, signed: isSigned ? date : "", name };
  const found = await post("operator_returned", body, { headers: { "X-Counterfoil-Pass": pass } });
  const told = found.entry ? say(`operator.returnedIs.${found.verdict}`) : say("operator.returnedNothing");
  const said = found.findings.map((one) => el("p", {}, finding(one)));
  const whose = [found.about, found.entry ? say("operator.returnedEntry", { entry: found.entry }) : ""].filter(Boolean);
  $("returned-said").replaceChildren(
    el("p", { class: "word" }, told),
    ...said,
    el("p", { class: "hint" }, whose.join("; ")),
  );
  if (found.verdict === "agrees") clear();
  $("returned-card").focus();
  $("returned-card").select();
}
