// The camera takes label and card by itself: a picture goes to the service (on this machine)
// when it is sharp and still; what was read there is outlined in place, without its digits.

import { $, el, svg } from "./nodes.js";
import { say } from "./texts.js";

const LOOK_MS = 250;
const SMALL_PX = 320;
const STILL = 6; // mean change of a small picture's gray values, 0 to 255
const SHARP = 60; // variance of its Laplacian; print in focus gives hundreds
const NEWS = 4; // change against the picture sent last that is worth another look
const CLOSER_AFTER = 2; // pictures of a label without a card's bars before "come closer"
const BOX_AFTER = 3; // pictures with a card but no box before the box is asked for

export class Camera {
  constructor({ video, outlines, says, send, isFree, asksBox }) {
    Object.assign(this, { video, outlines, says, send, isFree, asksBox });
    this.isOn = false;
    this.small = document.createElement("canvas");
    this.whole = document.createElement("canvas");
    this.forget();
  }

  forget() {
    this.before = null;
    this.sent = null;
    this.sentAt = 0;
    this.withoutBox = 0;
    this.withoutCard = 0;
    this.isAsked = false;
    this.outlines.replaceChildren();
    this.showFields([]);
  }

  async toggle() {
    if (this.isOn) this.stop();
    else await this.start();
    return this.isOn;
  }

  async start() {
    this.video.closest(".eye").hidden = false;
    $("eye-close").hidden = true;
    try {
      this.stream = await navigator.mediaDevices.getUserMedia({
        audio: false,
        video: { width: { ideal: 1920 }, height: { ideal: 1080 }, facingMode: "environment" },
      });
    } catch {
      this.says.textContent = say("camera.refused");
      this.video.closest(".frame").hidden = true;
      $("eye-close").hidden = false;
      return;
    }
    this.video.closest(".frame").hidden = false;
    this.video.srcObject = this.stream;
    await this.video.play();
    this.isOn = true;
    this.says.textContent = say("camera.on");
    this.timer = setInterval(() => this.look(), LOOK_MS);
  }

  stop() {
    clearInterval(this.timer);
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.video.srcObject = null;
    this.isOn = false;
    this.stream = null;
    this.video.closest(".eye").hidden = true;
    this.forget();
  }

  // The label's number must not be on the screen while the box is keyed.
  cover(isCovered) {
    this.video.closest(".frame").classList.toggle("covered", isCovered);
  }

  look() {
    const { videoWidth: width, videoHeight: height } = this.video;
    if (!width || !this.isFree()) return;
    const gray = this.gray(width, height);
    const moved = this.before ? change(gray, this.before) : Infinity;
    this.before = gray;
    if (moved > STILL) return this.tell("sharp");
    if (sharpness(gray, this.small.width) < SHARP) return this.tell("blurred");
    const isOld = this.sent && change(gray, this.sent) < NEWS;
    if (isOld && performance.now() - this.sentAt < 2500) return;
    this.sent = gray;
    this.sentAt = performance.now();
    this.tell("reading");
    this.take(width, height);
  }

  take(width, height) {
    this.whole.width = width;
    this.whole.height = height;
    this.whole.getContext("2d").drawImage(this.video, 0, 0);
    this.whole.toBlob((picture) => picture && this.isOn && this.send(picture), "image/jpeg", 0.92);
  }

  gray(width, height) {
    const small = this.small;
    small.width = SMALL_PX;
    small.height = Math.max(1, Math.round((SMALL_PX * height) / width));
    const paper = small.getContext("2d", { willReadFrequently: true });
    paper.drawImage(this.video, 0, 0, small.width, small.height);
    const { data } = paper.getImageData(0, 0, small.width, small.height);
    const gray = new Uint8Array(data.length / 4);
    for (let i = 0; i < gray.length; i += 1) {
      gray[i] = (data[4 * i] * 77 + data[4 * i + 1] * 150 + data[4 * i + 2] * 29) >> 8;
    }
    return gray;
  }

  answered(answer) {
    this.draw(answer.outlines ?? []);
    if (answer.fields?.length) this.showFields(answer.fields);
    const sides = new Set((answer.outlines ?? []).map((one) => one.side));
    const names = ["label", "card", "box"].filter((side) => sides.has(side)).map((side) => say(`sides.${side}`));
    this.withoutCard = answer.missing.includes("card") && !answer.missing.includes("label") ? this.withoutCard + 1 : 0;
    if (this.withoutCard > CLOSER_AFTER) this.says.textContent = say("camera.closer");
    else if (names.length) this.says.textContent = say("camera.seen", { sides: names.join(", ") });
    else this.says.textContent = say("camera.on");
    if (answer.finished.length) {
      this.withoutBox = 0;
      this.isAsked = false;
      return;
    }
    const isBoxAlone = answer.missing.length === 1 && answer.missing[0] === "box";
    if (!isBoxAlone) return;
    this.withoutBox += 1;
    if (this.withoutBox >= BOX_AFTER && !this.isAsked) {
      this.isAsked = true;
      this.asksBox();
    }
  }

  // What of each of the card's other fields was seen, where its form is known.
  showFields(fields) {
    const items = fields.map(({ name, state }) => el("li", {}, say(`fields.${state}`, { field: fieldName(name) })));
    $("eye-fields").replaceChildren(...items);
    $("eye-fields").hidden = !items.length;
  }

  draw(outlines) {
    const { videoWidth: width, videoHeight: height } = this.video;
    this.outlines.setAttribute("viewBox", `0 0 ${width || 1} ${height || 1}`);
    const shapes = outlines.flatMap((one) => {
      const points = one.corners.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
      const [x, y] = one.corners.reduce((low, corner) => (corner[1] < low[1] ? corner : low));
      const name = one.side === "unplaced" ? "?" : say(`sides.${one.side}`);
      return [
        svg("polygon", { points, class: `under` }),
        svg("polygon", { points, class: `over ${one.side}` }),
        svg("text", { x, y: Math.max(y - 12, 36), "font-size": Math.max(22, width / 40) }, name),
      ];
    });
    this.outlines.replaceChildren(...shapes);
  }

  tell(name) {
    const text = say(`camera.${name}`);
    if (this.says.textContent !== text) this.says.textContent = text;
  }
}

// A service's own name is the form's.
function fieldName(name) {
  return name.startsWith("service ") ? name.slice(8) : say(`fields.names.${name}`);
}

function change(one, other) {
  if (one.length !== other.length) return Infinity;
  let sum = 0;
  for (let i = 0; i < one.length; i += 1) sum += Math.abs(one[i] - other[i]);
  return sum / one.length;
}

// The variance of the Laplacian (Pech-Pacheco et al. 2000, from memory).
function sharpness(gray, width) {
  let sum = 0;
  let squares = 0;
  let count = 0;
  for (let i = width + 1; i < gray.length - width - 1; i += 1) {
    const value = 4 * gray[i] - gray[i - 1] - gray[i + 1] - gray[i - width] - gray[i + width];
    sum += value;
    squares += value * value;
    count += 1;
  }
  return squares / count - (sum / count) ** 2;
}
