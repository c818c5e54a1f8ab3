/** Buttons, keys, pedals and headsets: what asks for what. */

const KEYS = {
  " ": "pause",
  Enter: "pause",
  p: "pause",
  PageUp: "pedalUp",
  PageDown: "pedalDown",
  d: "drop",
  c: "clean",
  ArrowUp: "again",
  Home: "again",
  a: "again",
  ArrowDown: "forward",
  ArrowRight: "forward",
  n: "forward",
  ArrowLeft: "back",
  b: "back",
  "-": "slower",
  "+": "faster",
  "=": "faster",
};

const PRESSING = [" ", "Enter"];

/** Return whether what has the focus acts on a key by itself. */
function keepsKey({ tagName }, key) {
  return (tagName === "SELECT" && !key.startsWith("Page")) || (tagName === "SUMMARY" && PRESSING.includes(key));
}

/** Return whether a key presses the button that has the focus. */
function pressesButton({ target, key }) {
  return target.tagName === "BUTTON" && PRESSING.includes(key);
}

document.addEventListener("keydown", (event) => {
  const asked = KEYS[event.key];
  if (!asked || event.ctrlKey || event.altKey || event.metaKey) return;
  if (keepsKey(event.target, event.key)) return;
  event.preventDefault();
  if (event.repeat) return; // a foot that rests on a pedal asks once
  if (pressesButton(event)) event.target.click();
  else ask(asked);
});

document.addEventListener("keyup", (event) => {
  if (pressesButton(event)) event.preventDefault(); // it was pressed when the key went down
});

/** Let a button do something, and give back the focus that a tap has put on it, for the pedals. */
function onPress(id, action) {
  element(id).addEventListener("click", (event) => {
    if (event.detail > 0) event.currentTarget.blur();
    action();
  });
}

onPress("start", start);
for (const name of ["pause", "back", "again", "forward", "slower", "faster", "choose"]) {
  onPress(name, () => ask(name));
}

/**
 * A headset's buttons reach a page only while a media element plays, and this one plays silence. On
 * older iPhones it also lets the sound be heard where the switch for silence is on.
 */
const silence = document.getElementById("silence");
const SILENT_RATE = 8000;
const SILENT_SECONDS = 10;

/** Return a WAV file of silence: one channel of 8 bits (Multimedia Programming Interface, 1991). */
function silentFile() {
  const length = SILENT_RATE * SILENT_SECONDS;
  const head = new DataView(new ArrayBuffer(44));
  const words = { 0: "RIFF", 8: "WAVE", 12: "fmt ", 36: "data" };
  for (const [place, word] of Object.entries(words)) {
    [...word].forEach((sign, index) => head.setUint8(Number(place) + index, sign.charCodeAt(0)));
  }
  const numbers = { 4: 36 + length, 16: 16, 24: SILENT_RATE, 28: SILENT_RATE, 40: length };
  for (const [place, number] of Object.entries(numbers)) head.setUint32(Number(place), number, true);
  for (const [place, number] of [[20, 1], [22, 1], [32, 1], [34, 8]]) head.setUint16(place, number, true);
  return new Blob([head, new Uint8Array(length).fill(128)], { type: "audio/wav" });
}

/** Tell the system that sound is played, or that it is not. */
function holdSession(isPlaying) {
  if (!silence.src) silence.src = URL.createObjectURL(silentFile());
  if (isPlaying) silence.play().catch(() => {}); // nothing but the headset's buttons is lost
  else silence.pause();
}

// Silence that nobody here has stopped was stopped by the system: a call, a headset pulled out.
silence.addEventListener("pause", () => {
  if (session.phase === "playing" && silence.paused) pause();
});

const HEADSET = { play: "pause", pause: "pause", nexttrack: "forward", previoustrack: "again" };
for (const [action, name] of Object.entries(HEADSET)) {
  try {
    navigator.mediaSession?.setActionHandler(action, () => ask(name));
  } catch {
    // This browser knows no such button.
  }
}
