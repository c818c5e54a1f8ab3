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

/** What acts on keys by itself while it has the focus. */
const OWN_KEYS = { BUTTON: [" ", "Enter"], SUMMARY: [" ", "Enter"], SELECT: null };

function takesKey(holder, key) {
  const own = OWN_KEYS[holder?.tagName];
  return own === null || Boolean(own?.includes(key));
}

document.addEventListener("keydown", (event) => {
  const asked = KEYS[event.key];
  if (!asked || event.ctrlKey || event.altKey || event.metaKey) return;
  if (takesKey(event.target, event.key)) return;
  event.preventDefault();
  if (!event.repeat) ask(asked); // a foot that rests on a pedal asks once
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
