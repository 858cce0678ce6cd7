// The form in which a person keys a number, and why nothing may be pasted there.

import { $ } from "/page/nodes.js";
import { say } from "/page/texts.js";

export class Keying {
  // onNumber(side, text), onRefused(why), onOpen(), onClose()
  constructor({ onNumber, onRefused, onOpen, onClose }) {
    Object.assign(this, { onNumber, onRefused, onOpen, onClose });
    this.form = $("keying");
    this.field = $("number");
    this.form.addEventListener("submit", (event) => this.enter(event));
    $("keying-leave").addEventListener("click", () => this.close());
    for (const name of ["paste", "drop"]) {
      document.addEventListener(name, (event) => this.refuse(event));
    }
  }

  get isOpen() {
    return !this.form.hidden;
  }

  get hasText() {
    return this.field.value !== "";
  }

  open(side = "box", why = "") {
    if (!this.isOpen) this.field.value = "";
    this.form.hidden = false;
    this.form.elements.side.value = side;
    $("keying-no").textContent = why;
    this.onOpen();
    this.field.focus();
  }

  close() {
    if (!this.isOpen) return;
    const hadFocus = this.form.contains(document.activeElement);
    this.form.hidden = true;
    this.field.value = "";
    this.onClose();
    if (hadFocus) $("do-key").focus();
  }

  enter(event) {
    event.preventDefault();
    const text = this.field.value;
    if (!text.trim()) {
      $("keying-no").textContent = say("keying.empty");
      return;
    }
    const side = this.form.elements.side.value;
    this.field.value = "";
    this.onNumber(side, text);
  }

  refuse(event) {
    event.preventDefault();
    $("keying-no").textContent = say("keying.paste");
    this.onRefused(say("keying.paste"));
  }
}
