/** Buttons, keys, pedals and headsets: what asks for what. */

const KEYS = {
  " ": "pause",
  Enter: "pause",
  p: "pause",
  PageUp: "again",
  ArrowUp: "again",
  Home: "again",
  a: "again",
  PageDown: "forward",
  ArrowDown: "forward",
  ArrowRight: "forward",
  n: "forward",
  ArrowLeft: "back",
  b: "back",
};

const PRESSING = [" ", "Enter"];

/** Return whether what has the focus acts on a key by itself. */
function keepsKey({ tagName }, key) {
  return tagName === "SELECT" || (tagName === "SUMMARY" && PRESSING.includes(key));
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
for (const name of Object.keys(ASKED)) onPress(name, () => ask(name));

const HEADSET = { play: "pause", pause: "pause", nexttrack: "forward", previoustrack: "again" };
for (const [action, name] of Object.entries(HEADSET)) {
  try {
    navigator.mediaSession?.setActionHandler(action, () => ask(name));
  } catch {
    // This browser knows no such button.
  }
}
