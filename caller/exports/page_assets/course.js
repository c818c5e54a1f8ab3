/** What is thrown when: the piece as the page was given it. Times are seconds of the sound. */

const course = JSON.parse(document.getElementById("course").textContent);
const beats = course.beats.map(([time, tempo, chapter, kind, cycle, place, left, right, hows]) => ({
  time, tempo, chapter, kind, cycle, place, left, right, hows,
}));
const chapters = course.chapters;
for (const { chapter, hows } of beats) if (hows) chapters[chapter].hasHows = true;
const parts = chapters.flatMap(({ kind, first }, index) =>
  kind === "part" && first !== null ? [index] : []);

/** What a hand does besides throwing, by the index of its beat: [hand, what it does]. */
const actions = new Map();
for (const [index, hand, what] of course.actions) {
  actions.set(index, [...(actions.get(index) ?? []), [hand, what]]);
}

/** Beats that lead up to a part where the sound has no count-in for it. */
const USUAL_COUNT = 4;
const countIn = beats.filter((beat) => beat.chapter === beats[0].chapter && beat.kind === "count-in")
  .length || USUAL_COUNT;

/** Return the index of the last beat that has begun at a moment; -1 before the first. */
function beatAt(time) {
  let low = 0;
  let high = beats.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (beats[middle].time <= time) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

/** Return whether a beat brings something to see: all but the second one of a pair. */
function isShown({ kind, left, right }) {
  return kind !== "throw" || left !== "" || right !== "";
}

/** Return the index of the first throw from a beat on; the number of beats where none comes. */
function nextThrow(index) {
  let found = Math.max(index, 0);
  while (found < beats.length && beats[found].kind !== "throw") found += 1;
  return found;
}

/** Return the throws of a beat as a pattern has them. */
function notation({ left, right }) {
  return left && right ? `(${left},${right})` : left || right;
}

/** Return the beats from one on that are of its chapter and cycle, or up to it where `step` is -1. */
function sameCycle(index, step) {
  const { chapter, cycle } = beats[index];
  let last = index;
  for (
    let next = index + step;
    beats[next]?.chapter === chapter && beats[next].cycle === cycle;
    next += step
  ) last = next;
  return last;
}

/**
 * Return where to let the sound begin so that the first throw is that of a beat.
 *
 * Where the sound counts in to it, it begins with that; else some beats earlier, whose clicks lead
 * up to it. It begins amid two beats, so that no click is cut.
 */
function landing(first) {
  let counted = first;
  while (beats[counted - 1]?.kind === "count-in") counted -= 1;
  if (counted === first) counted = Math.max(0, first - countIn);
  const { time } = beats[first];
  const [one, other] = [beats[counted].time, beats[counted + 1]?.time ?? time];
  return { first, counted, time, moment: time, from: Math.max(0, one - (other - one) / 2) };
}

/** Return how to begin with the part at a place among `parts`; with the first one, all is heard. */
function opening(place) {
  const goal = landing(chapters[parts[place]].first);
  return place === 0 ? { ...goal, from: 0 } : goal;
}

/** Return how to go on after a pause: with the cycle that was cut, else where it was. */
function goingOn(time) {
  const index = beatAt(time);
  const kind = beats[index]?.kind;
  if (kind === "throw") return landing(sameCycle(index, -1));
  const first = nextThrow(index);
  if (first === beats.length) return { first, counted: first, time, moment: time, from: time };
  return kind === "count-in" ? landing(first) : { ...landing(first), moment: time, from: time };
}

/** Return the place among `parts` of the part that a moment belongs to; a rest's is the one before. */
function partAt(time) {
  const beat = beats[Math.max(0, beatAt(time))];
  const leads = ["ready", "bridge"].includes(chapters[beat.chapter].kind);
  const place = leads
    ? parts.findIndex((chapter) => chapter > beat.chapter)
    : parts.findLastIndex((chapter) => chapter <= beat.chapter);
  return Math.max(0, place);
}
