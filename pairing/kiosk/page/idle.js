// After a while without keys, touches or scans the page's numbers are wiped; before that it
// warns, and one press keeps them (WCAG 2.2, 2.2.1).

import { say } from "./texts.js";

const WARN_S = 20;

export class Idle {
  constructor({ hasNumbers, box, says, stay, onOver }) {
    Object.assign(this, { hasNumbers, box, says, stay, onOver });
    this.idle = 60;
    this.last = performance.now();
    for (const name of ["keydown", "pointerdown", "touchstart"]) {
      window.addEventListener(name, (event) => this.stir(event), { capture: true, passive: true });
    }
    stay.addEventListener("click", (event) => this.stir(event));
  }

  begin(idleS) {
    this.idle = idleS;
    setInterval(() => this.look(), 500);
  }

  // A press on the box itself keeps it until the press is over.
  stir(event) {
    this.last = performance.now();
    if (!event || event.type === "click" || !this.box.contains(event.target)) this.box.hidden = true;
  }

  look() {
    if (!this.hasNumbers()) return this.stir();
    const left = this.idle - (performance.now() - this.last) / 1000;
    if (left <= 0) {
      this.stir();
      this.onOver();
    } else if (left <= Math.min(WARN_S, this.idle / 2)) {
      const text = say("idle.soon", { n: Math.ceil(left) });
      // Only the first warning is read out; the count goes on in silence.
      if (this.box.hidden) this.box.hidden = false;
      this.says.textContent = text;
    }
  }
}
