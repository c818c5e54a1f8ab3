/** What is going on: getting ready, playing, a pause; and what can be asked for. */

const session = { phase: "cover", goal: opening(0), begins: 0, timer: 0 };

/** Let the sound begin for a goal, after the time that filling the hands takes. */
function go(goal) {
  const toFill = goal.first < beats.length ? Number(element("filling").value) : 0;
  const wait = Math.max(0, toFill - (goal.time - goal.from));
  clearTimeout(session.timer);
  if (wait > 0) {
    // Some browsers let a sound begin later only if it has begun once where it was asked for.
    sound.play().catch(() => {});
  }
  sound.pause();
  sound.currentTime = goal.from;
  Object.assign(session, { phase: "filling", goal, begins: performance.now() / 1000 + wait });
  if (wait > 0) session.timer = setTimeout(play, wait * 1000);
  else play();
  keepAwake();
  follow();
}

/** Let the sound be heard. */
function play() {
  session.phase = "playing";
  sound.play().catch((error) => {
    if (error.name === "AbortError") return; // something else was asked for in between
    session.phase = "paused";
    tellTrouble(`The browser did not let the sound begin: ${error.message}`);
  });
}

/** Stop, and remember where to go on. */
function pause() {
  const time = heard();
  const isPending = time < session.goal.time;
  const { kind } = beats[beatAt(time)] ?? {};
  if (session.phase !== "filling" && !(isPending && ["throw", "count-in"].includes(kind))) {
    session.goal = goingOn(time);
  }
  clearTimeout(session.timer);
  session.phase = "paused";
  sound.pause();
}

/** Return the place among `parts` of the part that is thrown, or got ready for. */
function place() {
  return partAt(Math.max(heard(), session.goal.moment));
}

/** What can be asked for on the floor, by name. */
const ASKED = {
  pause() {
    if (session.phase === "paused") go(session.goal);
    else if (session.phase === "ended") go(opening(0));
    else pause();
  },
  again() {
    go(landing(chapters[parts[place()]].first));
  },
  forward() {
    if (place() + 1 < parts.length) go(landing(chapters[parts[place() + 1]].first));
  },
  back() {
    go(landing(chapters[parts[Math.max(0, place() - 1)]].first));
  },
};

/** Do what is asked for; before the start, whatever it is, that is to start. */
function ask(name) {
  if (session.phase === "cover") start();
  else ASKED[name]();
}

/** Leave the cover and begin with the part that is chosen there. */
function start() {
  if (element("start").disabled) return;
  element("cover").hidden = true;
  element("floor").hidden = false;
  element("pause").focus();
  go(opening(Number(element("opening").value)));
}

sound.addEventListener("ended", () => {
  session.phase = "ended";
  letSleep();
});

// Where nothing is loaded before it is asked for, the place could not be set until now.
sound.addEventListener("loadedmetadata", () => {
  if (session.phase !== "cover") sound.currentTime = session.goal.from;
});

// A call, a headset pulled out, or the system stopped it.
sound.addEventListener("pause", () => {
  if (session.phase === "playing" && sound.paused && !sound.ended) pause();
});
