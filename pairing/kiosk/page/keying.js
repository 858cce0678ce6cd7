// The form in which a person keys a number, and why nothing may be pasted there.

import { Form } from "./form.js";
import { $ } from "./nodes.js";
import { say } from "./texts.js";

export class Keying extends Form {
  // tookSteadyKeys(), onNumber(side, text), onRefused(why), onOpen(), onClose()
  constructor({ tookSteadyKeys, onNumber, onRefused, onOpen, onClose }) {
    super($("keying"), $("keying-leave"), onClose);
    Object.assign(this, { tookSteadyKeys, onNumber, onRefused, onOpen });
    this.field = $("number");
    for (const name of ["paste", "drop"]) {
      document.addEventListener(name, (event) => this.refuse(event));
    }
  }

  get hasText() {
    return this.field.value !== "";
  }

  // side: the one that is chosen already, "" for none.
  open(side = "", why = "") {
    if (!this.isOpen) {
      this.empty();
      this.tookSteadyKeys();
    }
    this.form.hidden = false;
    for (const choice of this.form.elements.side) choice.checked = choice.value === side;
    // There is nothing to choose where one side alone is missing.
    this.form.querySelector("fieldset").hidden = side !== "";
    $("keying-no").textContent = why;
    this.onOpen();
    if (side) this.field.focus();
    else this.form.elements.side[0].focus();
  }

  // Nothing of a number stays, also where it is shown in groups.
  empty() {
    this.field.value = "";
    this.field.dispatchEvent(new InputEvent("input", { bubbles: true, data: null }));
  }

  enter(event) {
    event.preventDefault();
    const text = this.field.value;
    if (!text.trim()) {
      $("keying-no").textContent = say("keying.empty");
      return;
    }
    const side = this.form.elements.side.value;
    if (!side) {
      $("keying-no").textContent = say("keying.noSide");
      return;
    }
    this.empty();
    if (this.tookSteadyKeys()) {
      // Else a label that is scanned slowly would be its own box.
      $("keying-no").textContent = say("keying.steady");
      this.onRefused(say("keying.steady"));
      return;
    }
    this.onNumber(side, text);
  }

  refuse(event) {
    if (event.target instanceof Element && event.target.closest("#whom")) return; // no number
    event.preventDefault();
    $("keying-no").textContent = say("keying.paste");
    this.onRefused(say("keying.paste"));
  }
}
