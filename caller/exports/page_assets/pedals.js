/**
 * Pedals, and what they mark. Page Up is "drop", or "it was a drop" once nothing is thrown; Page
 * Down is "go" in a wait and "clean" while throwing. With one pedal a press is "drop" or "go", and
 * two presses are "clean". Each is answered by a sound of its own.
 */

const REACTION = 0.3; // seconds from a drop to the press that marks it
const TWICE = 0.6; // seconds within which two presses are one

/** Frequencies in Hz, one after the other; each answer is several times longer than a click. */
const ANSWERS = { drop: [520, 350], clean: [520, 780], go: [390] };
const ANSWER_SECONDS = 0.16;
const ANSWER_LEVEL = 0.3;

/** The run since the last start, the one before it, and what was marked on this page. */
const marks = { run: null, before: null, best: 0, clean: 0, drops: 0, droppedAt: -Infinity };

function answer(name) {
  const { context } = sound;
  if (!context) return;
  const begin = context.currentTime;
  const end = begin + ANSWER_SECONDS;
  const gain = new GainNode(context, { gain: 0 });
  gain.gain.setValueAtTime(0, begin);
  gain.gain.linearRampToValueAtTime(ANSWER_LEVEL, begin + 0.01);
  gain.gain.setValueAtTime(ANSWER_LEVEL, end - 0.03);
  gain.gain.linearRampToValueAtTime(0, end);
  const tone = new OscillatorNode(context, { type: "triangle" });
  ANSWERS[name].forEach((frequency, index, all) => {
    tone.frequency.setValueAtTime(frequency, begin + (index * ANSWER_SECONDS) / all.length);
  });
  tone.connect(gain).connect(context.destination);
  tone.start(begin);
  tone.stop(end);
}

/** Return how many of what was thrown since the last start was caught by a moment of the sound. */
function caughtBy(moment) {
  const { first } = session.goal;
  return course.catches.filter(([time, thrown]) => thrown >= first && time <= moment).length;
}

/** Keep what the run was, if anything was thrown in it, with a mark or with none. */
function endRun(mark = null, moment = heard()) {
  if (!isThrowing()) return;
  const caught = caughtBy(moment);
  const given = mark ?? marks.run;
  marks.best = Math.max(marks.best, caught);
  marks.before = { caught, mark: given };
  if (mark === "drop" && marks.run === "clean") marks.clean -= 1;
  if (mark === "drop") marks.drops += 1;
  marks.run = null;
}

/** Mark the run before anew. */
function remark(mark) {
  const { before } = marks;
  if (!before || before.mark === mark) return;
  if (before.mark === "clean") marks.clean -= 1;
  if (before.mark === "drop") marks.drops -= 1;
  marks[mark === "clean" ? "clean" : "drops"] += 1;
  before.mark = mark;
}

function drop() {
  answer("drop");
  if (!isThrowing()) {
    remark("drop");
    draw();
    return;
  }
  const time = heard();
  const again = landing(chapters[parts[partAt(time)]].first);
  endRun("drop", time - REACTION * sound.playbackRate);
  session.goal = again;
  stop("dropped");
}

/** Begin again in a wait; while hands are filled, begin now. */
function goNow() {
  answer("go");
  if (session.phase === "ended") go(opening(0));
  else if (isWaiting()) ASKED.again();
  else if (session.phase === "filling") play();
}

function goOrClean() {
  if (!isThrowing()) {
    goNow();
    return;
  }
  answer("clean");
  if (marks.run !== "clean") marks.clean += 1;
  marks.run = "clean";
  draw();
}

function onePedal() {
  const now = performance.now() / 1000;
  if (isThrowing()) {
    drop();
    marks.droppedAt = now;
  } else if (session.phase === "dropped" && now - marks.droppedAt <= TWICE) {
    answer("clean");
    remark("clean");
    marks.droppedAt = -Infinity;
    draw();
  } else goNow();
}

const hasOnePedal = () => element("pedals").value === "1";

Object.assign(ASKED, {
  drop,
  clean: goOrClean,
  pedalUp: () => (hasOnePedal() ? onePedal : drop)(),
  pedalDown: () => (hasOnePedal() ? onePedal : goOrClean)(),
});

/** Return what the pedals do next: [pedal, what it does]; nothing while throws are made. */
function pedalWords() {
  if (isThrowing()) return [];
  const isOne = hasOnePedal();
  if (!isWaiting()) {
    return isOne
      ? [["pedal", "drop"], ["twice", "clean"]] : [["Page Up", "drop"], ["Page Down", "clean"]];
  }
  if (isOne) return [["pedal", "go"]];
  const canBeDrop = marks.before && marks.before.mark !== "drop";
  return [...(canBeDrop ? [["Page Up", "a drop"]] : []), ["Page Down", "go"]];
}
