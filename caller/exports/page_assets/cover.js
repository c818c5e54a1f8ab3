/** What is chosen on the page before the start: the part, the stretch, speed and pedals. */

const [SLOWEST, QUICKEST, SPEED_STEP] = [50, 120, 5];
const REMEMBERED = "throwcount pedals";

function tellTrouble(sentence) {
  put("trouble", sentence);
}

function showCover(isShown) {
  element("cover").hidden = !isShown;
  element("floor").hidden = isShown;
  if (isShown) element("start").focus();
}

/** Put choices into a list, each a value and its text. */
function offer(id, choices) {
  element(id).replaceChildren(...choices.map(([value, text]) => {
    const option = document.createElement("option");
    option.value = value;
    option.textContent = text;
    return option;
  }));
}

function partNames() {
  return parts.map((chapter, index) => [index, `${index + 1}. ${chapters[chapter].title}`]);
}

/** Offer as the end of a stretch the part that it begins with, and those after it. */
function offerEnds() {
  const opening = Number(element("opening").value);
  const before = element("until").value;
  offer("until", [["", "no part: play to the end"], ...partNames().slice(opening)]);
  element("until").value = Number(before) >= opening ? before : "";
}

/** Return the places of the first and the last part that are repeated; null for none. */
function chosenLoop() {
  const until = element("until").value;
  return until === "" ? null : [Number(element("opening").value), Number(until)];
}

/** Make the sound slower or quicker by some steps. */
function changeSpeed(steps) {
  const percent = Math.round(100 * sound.playbackRate) + steps * SPEED_STEP;
  if (percent < SLOWEST || percent > QUICKEST) return;
  sound.playbackRate = percent / 100;
  element("speed").value = percent;
  draw();
}

/** Do something with what the browser remembers, which it may refuse. */
function remembering(action) {
  try {
    return action(localStorage);
  } catch {
    return null;
  }
}

put("title", course.title);
put("floor-title", course.title);
put("length", `${counted(parts.length, "part")}, ${told(course.seconds)} long`);
offer("opening", partNames());
offerEnds();
const speeds = Array.from({ length: (QUICKEST - SLOWEST) / SPEED_STEP + 1 }, (_, index) =>
  SLOWEST + index * SPEED_STEP);
offer("speed", speeds.map((percent) => [percent, `${percent} %`]));
element("speed").value = 100;
element("pedals").value = remembering((kept) => kept.getItem(REMEMBERED)) === "1" ? "1" : "2";

element("opening").addEventListener("change", offerEnds);
element("speed").addEventListener("change", ({ target }) => {
  sound.playbackRate = Number(target.value) / 100;
});
element("pedals").addEventListener("change", ({ target }) => {
  remembering((kept) => kept.setItem(REMEMBERED, target.value));
});
sound.addEventListener("error", () => {
  tellTrouble("This browser cannot play the sound in this page.");
});
