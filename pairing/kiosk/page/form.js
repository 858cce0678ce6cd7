// A form over the page that is opened and left again.

export class Form {
  // leave: the button that closes it; onClose(). Whoever extends it says what enter and empty do.
  constructor(form, leave, onClose) {
    Object.assign(this, { form, onClose });
    form.addEventListener("submit", (event) => this.enter(event));
    leave.addEventListener("click", () => this.close());
  }

  get isOpen() {
    return !this.form.hidden;
  }

  close() {
    if (!this.isOpen) return;
    // The focus goes nowhere: on an action the next Enter would press it.
    if (this.form.contains(document.activeElement)) document.activeElement.blur();
    this.form.hidden = true;
    this.empty();
    this.onClose();
  }
}
