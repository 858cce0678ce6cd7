// Keys on the screen, for a kiosk without a keyboard. They type into the field as a finger does on
// any other: one after the other, and nothing is filled in.

import { $, el } from "./nodes.js";
import { keep, kept, say } from "./texts.js";

const DIGITS = [..."1234567890"];
const LETTERS = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ"];

export class Pad {
  constructor() {
    this.field = $("number");
    this.place = $("pad");
    this.shows = DIGITS;
    const wish = kept("pad");
    this.isOn = wish ? wish === "on" : matchMedia("(any-pointer: coarse)").matches;
    this.field.addEventListener("input", () => this.group());
    this.draw();
  }

  toggle() {
    this.isOn = !this.isOn;
    keep("pad", this.isOn ? "on" : "off");
    this.draw();
  }

  draw() {
    this.place.hidden = !this.isOn;
    // The system's own keyboard would lie over the page.
    this.field.inputMode = this.isOn ? "none" : "text";
    $("do-pad").setAttribute("aria-pressed", String(this.isOn));
    const other = this.shows === DIGITS ? "pad.letters" : "pad.digits";
    this.place.replaceChildren(
      ...this.shows.map((char) => this.key(char, char, () => this.type(char))),
      this.key("⌫", say("pad.erase"), () => this.erase()),
      this.key(this.shows === DIGITS ? "ABC" : "123", say(other), () => this.turn()),
    );
    this.place.dataset.shows = this.shows === DIGITS ? "digits" : "letters";
  }

  key(face, name, act) {
    const button = el("button", { type: "button", "aria-label": name }, face);
    button.addEventListener("click", () => {
      act();
      this.field.focus({ preventScroll: true });
    });
    return button;
  }

  turn() {
    this.shows = this.shows === DIGITS ? LETTERS : DIGITS;
    this.draw();
  }

  type(char) {
    const { field } = this;
    if (field.value.length >= field.maxLength) return;
    field.setRangeText(char, field.selectionStart, field.selectionEnd, "end");
    this.changed(char);
  }

  erase() {
    const { field } = this;
    const end = field.selectionEnd;
    const start = field.selectionStart < end ? field.selectionStart : Math.max(0, end - 1);
    field.setRangeText("", start, end, "end");
    this.changed(null);
  }

  changed(data) {
    this.field.dispatchEvent(new InputEvent("input", { bubbles: true, data }));
  }

  // What is in the field, in groups of four: easier to hold against the card.
  group() {
    const text = this.field.value.replace(/\s/g, "");
    $("keying-grouped").textContent = text.replace(/(.{4})(?=.)/g, "$1 ");
  }
}
