/** What is going on: getting ready, playing, a wait; and what can be asked for. */

/** `phase` is cover, filling, playing, paused, dropped or ended; `loop` is what is repeated. */
const session = { phase: "cover", goal: opening(0), begins: 0, timer: 0, loop: null };

/** Let the sound begin for a goal, after the time that filling the hands takes. */
function go(goal) {
  endRun();
  const toFill = goal.first < beats.length ? Number(element("filling").value) : 0;
  const wait = Math.max(0, toFill - (goal.time - goal.from) / sound.playbackRate);
  clearTimeout(session.timer);
  sound.unlock().catch(() => {}); // if it may not sound, play() tells why
  Object.assign(session, { phase: "filling", goal, begins: performance.now() / 1000 + wait });
  sound.pause();
  sound.currentTime = goal.from;
  if (wait > 0) session.timer = setTimeout(play, wait * 1000);
  else play();
  keepAwake();
  follow();
}

/** Let the sound be heard. */
function play() {
  clearTimeout(session.timer);
  session.phase = "playing";
  holdSession(true);
  sound.play().catch((error) => {
    session.phase = "paused";
    tellTrouble(`The browser did not let the sound begin: ${error.message}`);
  });
}

/** Stop, in a phase that waits. */
function stop(phase) {
  clearTimeout(session.timer);
  session.phase = phase;
  sound.pause();
  holdSession(false);
  follow();
}

/** Stop, and remember where to go on. */
function pause() {
  const time = heard();
  const isPending = time < session.goal.time;
  const { kind } = beats[beatAt(time)] ?? {};
  endRun();
  if (session.phase !== "filling" && !(isPending && ["throw", "count-in"].includes(kind))) {
    session.goal = goingOn(time);
  }
  stop("paused");
}

/** Return whether throws are made, or were since the last start. */
function isThrowing() {
  return session.phase === "playing" && heard() >= session.goal.time;
}

function isWaiting() {
  return ["paused", "dropped", "ended"].includes(session.phase);
}

/** Return the place among `parts` of the part that is thrown, or got ready for. */
function place() {
  return partAt(Math.max(heard(), session.goal.moment));
}

/** What can be asked for on the floor, by name; pedals and marks are in a list of their own. */
const ASKED = {
  pause() {
    if (["paused", "dropped"].includes(session.phase)) go(session.goal);
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
  slower() {
    changeSpeed(-1);
  },
  faster() {
    changeSpeed(1);
  },
  choose() {
    if (!isWaiting()) pause();
    session.phase = "cover";
    letSleep();
    showCover(true);
  },
};

/** Do what is asked for; before the start, whatever it is, that is to start. */
function ask(name) {
  if (session.phase !== "cover") ASKED[name]();
  else {
    start();
    if (name.startsWith("pedal")) answer("go");
  }
}

/** Leave the cover and begin with the part that is chosen there. */
function start() {
  if (element("start").disabled) return;
  session.loop = chosenLoop();
  showCover(false);
  element("pause").focus();
  go(opening(Number(element("opening").value)));
}

sound.addEventListener("ended", () => {
  endRun();
  session.phase = "ended";
  holdSession(false);
  letSleep();
  follow();
});

// A stretch that is repeated ends with its last part: the hands are filled again. Who has gone on to
// a part after it is let be.
sound.addEventListener("timeupdate", () => {
  if (session.phase !== "playing" || !session.loop) return;
  const [from, until] = session.loop;
  const { end } = chapters[parts[until]];
  if (session.goal.time < end && heard() >= end) go(landing(chapters[parts[from]].first));
});

// A call, a headset pulled out, or the system stopped it.
sound.addEventListener("pause", () => {
  if (session.phase === "playing") pause();
});
