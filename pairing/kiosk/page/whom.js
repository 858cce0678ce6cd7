// The form for whom and why a piece is. All of it may be left out, and none of it is shown again.

import { Form } from "./form.js";
import { $ } from "./nodes.js";
import { say } from "./texts.js";

const FIELDS = ["name", "address", "reference", "service", "fee"];

export class Whom extends Form {
  // onTold(about, of), onOpen(), onClose()
  constructor({ onTold, onOpen, onClose }) {
    super($("whom"), $("whom-leave"), onClose);
    Object.assign(this, { onTold, onOpen });
    this.of = null; // the entry of the piece that it is about; null for the piece in hand
    this.asksKind = false; // whether the office wants to know what a piece is
  }

  get kind() {
    return this.form.querySelector("[name=piece]:checked");
  }

  get title() {
    return this.of ? say("whom.entry", { entry: this.of }) : say("whom.piece");
  }

  get hasText() {
    return FIELDS.some((name) => $(`whom-${name}`).value !== "");
  }

  open(of = null) {
    if (!this.isOpen) this.empty();
    this.of = of;
    $("whom-piece").hidden = !this.asksKind;
    this.form.hidden = false;
    this.onOpen();
    $("whom-name").focus();
  }

  // Names of people stay on the page no longer than they are needed.
  empty() {
    for (const name of FIELDS) $(`whom-${name}`).value = "";
    if (this.kind) this.kind.checked = false;
  }

  // A scan while the form is open is the office's own reference, from the letter.
  scanned(text) {
    $("whom-reference").value = text.slice(0, $("whom-reference").maxLength);
  }

  enter(event) {
    event.preventDefault();
    const filled = FIELDS.map((name) => [name, $(`whom-${name}`).value.trim()]).filter(([, text]) => text);
    if (this.kind) filled.push(["piece", this.kind.value]);
    const { of } = this;
    this.close();
    if (filled.length) this.onTold(Object.fromEntries(filled), of);
  }
}
