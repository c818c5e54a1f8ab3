/** Puts a glance on the page. All of it is set as text, so that nothing in it becomes markup. */

function element(id) {
  return document.getElementById(id);
}

function put(id, text) {
  const holder = element(id);
  if (holder.textContent !== text) holder.textContent = text;
}

/** Tell the style sheet how many signs have to fit in a line. */
function fit(id, signs) {
  element(id).style.setProperty("--signs", Math.max(1, signs));
}

/** Return how many signs a line has to hold when a text goes on two of them, parted between words. */
function lineLength(text) {
  const longest = Math.max(...text.split(/\s+/).map((word) => word.length));
  return Math.max(longest, Math.min(text.length, Math.ceil(0.6 * text.length)));
}

/** Show the throws of the cycle, the one that is made marked. */
function putCycle({ signs, made }) {
  const list = element("cycle");
  const text = signs.join(" ");
  if (list.dataset.signs !== text) {
    list.dataset.signs = text;
    list.replaceChildren(...signs.map((sign) => {
      const item = document.createElement("li");
      item.textContent = sign;
      return item;
    }));
    fit("cycle", text.length);
  }
  [...list.children].forEach((item, index) => {
    if (index === made) item.setAttribute("aria-current", "step");
    else item.removeAttribute("aria-current");
  });
}

const WAITS = { paused: "Paused", dropped: "Drop", ended: "End" };

/** Say to those who listen to the page what is worth it: parts, cues and runs, not throws. */
const said = { chapter: -1, cue: "", phase: "", action: "" };

function say({ chapter, name, how, cue, next: coming, throws, leftDoes, rightDoes }) {
  const news = [];
  if (session.phase !== said.phase && isWaiting()) {
    const caught = session.phase === "dropped" ? `: ${counted(marks.before.caught, "catch", "es")}` : "";
    news.push(`${WAITS[session.phase]}${caught}.`);
  }
  const action = [["Left", leftDoes], ["Right", rightDoes]]
    .flatMap(([hand, does]) => (does ? [`${hand} hand: ${does}.`] : [])).join(" ");
  if (action && !said.action) news.push(action);
  if (throws && chapter !== said.chapter) {
    news.push(`${[name, how].filter(Boolean).join(", ")}. Next: ${coming.title}.`);
    said.chapter = chapter;
  }
  const now = cue.isNow ? cue.text : "";
  if (now && now !== said.cue) news.push(`Cue: ${now}.`);
  Object.assign(said, { cue: now, phase: session.phase, action });
  if (news.length) put("said", news.join(" "));
}

/** Show what there is to see at this moment. */
function draw() {
  const seen = glance();
  put("name", seen.name);
  fit("name", lineLength(seen.name));
  put("how", seen.how);
  fit("how", seen.how.length);
  put("left-over", seen.leftOver);
  put("when", seen.when);
  fit("when", seen.when.length);
  put("over", seen.over);
  put("word", seen.word);
  put("under", seen.under);
  const isCounted = seen.word.startsWith(SQUARE);
  fit("word", isCounted ? seen.word.split(" ").length : seen.word.length);
  element("stage").dataset.shows = isCounted ? "squares" : seen.word ? "word" : "throws";
  fit("stage", seen.widest);
  put("left", seen.left);
  put("right", seen.right);
  put("left-does", seen.leftDoes);
  put("right-does", seen.rightDoes);
  element("stage").classList.toggle("hows", seen.hasHows);
  for (const [id, { text, isNow }] of [["left-how", seen.leftHow], ["right-how", seen.rightHow]]) {
    put(id, text);
    fit(id, lineLength(text));
    element(id).classList.toggle("now", isNow);
  }
  putCycle(seen.cycle);
  put("next", seen.next.title);
  const left = seen.next.in === null ? "" : String(seen.next.in);
  fit("next", lineLength(seen.next.title) + left.length);
  put("in", left);
  put("unit", seen.next.in === 1 ? "beat" : "beats");
  element("unit").hidden = seen.next.in === null;
  put("by", seen.next.by);
  put("cue", seen.cue.text);
  fit("cue", seen.cue.text.length);
  element("cue").classList.toggle("now", seen.cue.isNow);
  putPedals();
  putControls();
  say(seen);
}

/** Show in place of the cue what the pedals do, wherever no throw is made. */
function putPedals() {
  const words = pedalWords();
  const list = element("pedal-words");
  const text = words.flat().join(" ");
  element("cue").hidden = words.length > 0;
  if (list.dataset.words === text) return;
  list.dataset.words = text;
  list.replaceChildren(...words.map((pair) => {
    const group = document.createElement("div");
    group.append(...["dt", "dd"].map((tag, index) => {
      const item = document.createElement(tag);
      item.textContent = pair[index];
      return item;
    }));
    return group;
  }));
}

/** Show what the large button does, and whether there is a part to go on to. */
function putControls() {
  const words = { paused: "Go on", dropped: "Go", ended: "Start" };
  put("pause-word", words[session.phase] ?? "Pause");
  const isLast = place() + 1 >= parts.length;
  element("forward").setAttribute("aria-disabled", String(isLast));
  const percent = Math.round(100 * sound.playbackRate);
  put("speed-now", percent === 100 ? "" : `${percent} %`);
  for (const [id, end] of [["slower", SLOWEST], ["faster", QUICKEST]]) {
    element(id).setAttribute("aria-disabled", String(percent === end));
  }
}

/** Draw again and again while something goes on, and once more after it. */
function follow() {
  cancelAnimationFrame(follow.frame);
  draw();
  if (["filling", "playing"].includes(session.phase)) {
    follow.frame = requestAnimationFrame(follow);
  }
}
