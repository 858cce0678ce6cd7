// One sound an answer, told apart by rhythm and direction and not by pitch alone: "seal" climbs
// once, "stop" knocks three times low, "look" wavers, "ask" rises and
// holds, "done" taps twice, "lost" falls slowly,
// and a refused scan rattles high.

let audio = null;

export function play(answer) {
  const notes = {
    seal: [[523, 0, 0.14, "sine"], [784, 0.15, 0.3, "sine"]],
    stop: [[150, 0, 0.13, "square"], [150, 0.2, 0.13, "square"], [150, 0.4, 0.22, "square"]],
    look: [[440, 0, 0.16, "triangle"], [392, 0.17, 0.16, "triangle"], [440, 0.34, 0.22, "triangle"]],
    ask: [[440, 0, 0.2, "triangle"], [587, 0.24, 0.3, "triangle"], [587, 0.6, 0.3, "triangle"]],
    done: [[523, 0, 0.1, "sine"], [523, 0.14, 0.1, "sine"]],
    lost: [[330, 0, 0.3, "triangle"], [247, 0.32, 0.55, "triangle"]],
    refused: [[1000, 0, 0.09, "square"], [700, 0.11, 0.09, "square"], [1000, 0.22, 0.09, "square"], [700, 0.33, 0.2, "square"]],
    tick: [[1200, 0, 0.03, "sine"]],
  }[answer];
  try {
    audio ??= new AudioContext();
    void audio.resume();
    for (const [pitch, start, length, shape] of notes ?? []) note(pitch, start, length, shape);
  } catch {
    // Without sound, word and shape still tell.
  }
}

function note(pitch, start, length, shape) {
  const at = audio.currentTime + start;
  const tone = audio.createOscillator();
  const loud = audio.createGain();
  tone.type = shape;
  tone.frequency.value = pitch;
  loud.gain.setValueAtTime(0, at);
  loud.gain.linearRampToValueAtTime(shape === "square" ? 0.12 : 0.3, at + 0.01);
  loud.gain.linearRampToValueAtTime(0, at + length);
  tone.connect(loud).connect(audio.destination);
  tone.start(at);
  tone.stop(at + length + 0.02);
}
