/** What there is to see at this moment, as plain data. */

const SQUARE = "\u25a0";
const MOST_SQUARES = 8;
const SQUARES_A_ROW = 4;

/** Return a length as minutes and seconds, or hours, minutes and seconds. */
function told(seconds) {
  const whole = Math.max(0, Math.ceil(seconds - 0.001));
  const two = (number) => String(number).padStart(2, "0");
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return hours ? `${hours}:${two(minutes)}:${two(rest)}` : `${minutes}:${two(rest)}`;
}

function counted(number, noun, ending = "s") {
  return `${number} ${noun}${number === 1 ? "" : ending}`;
}

/**
 * Return where this is: the beat that is heard, and whether its throw is made or yet to come.
 *
 * `first` is the next beat that is thrown, `squares` how many beats are counted to it, 0 where none
 * are; `chapter` is what is thrown, or what one gets ready for.
 */
function whereabouts() {
  const { goal, phase, begins } = session;
  const time = heard();
  const index = beatAt(time);
  const kind = beats[index]?.kind;
  const isPending = time < goal.time && index < goal.first;
  const throws = !isPending && kind === "throw";
  const first = isPending ? goal.first : nextThrow(index);
  const isCounted = kind === "count-in" || (isPending && index >= goal.counted && kind === "throw");
  const waits = phase === "filling" ? Math.max(0, begins - performance.now() / 1000) : 0;
  const leads = isPending || isCounted || index < 0;
  return {
    time, index, throws, first, isPending,
    isCatching: kind === "run-out" && !isPending,
    squares: isCounted && waits === 0 && first < beats.length ? first - index : 0,
    untilThrow: first < beats.length ? (beats[first].time - time) / sound.playbackRate + waits : null,
    chapter: leads && first < beats.length ? beats[first].chapter : beats[Math.max(0, index)].chapter,
  };
}

/** Return a square for each beat, in rows that are parted by a blank. */
function rowsOfSquares(number) {
  const rows = [];
  for (let left = number; left > 0; left -= SQUARES_A_ROW) {
    rows.push(SQUARE.repeat(Math.min(left, SQUARES_A_ROW)));
  }
  return rows.join(" ");
}

/** Return what is shown large in place of throws; nothing where throws are. */
function largeWord({ throws, isCatching, squares, untilThrow }) {
  if (session.phase === "ended") return "end";
  if (session.phase === "paused") return "paused";
  if (session.phase === "dropped") return String(marks.before.caught);
  if (throws) return "";
  if (squares) return rowsOfSquares(Math.min(squares, MOST_SQUARES));
  return isCatching || untilThrow === null ? "catch" : told(untilThrow);
}

/** Return where in the part this is, in words. */
function when({ throws, isCatching, squares, index, first, untilThrow }) {
  if (session.phase === "ended") return "";
  if (throws) {
    const { chapter, cycle } = beats[index];
    const { cycles } = chapters[chapter];
    const where = cycles > 1 ? `cycle ${cycle + 1} of ${cycles}` : "";
    return [where, marks.run].filter(Boolean).join(", ");
  }
  if (isCatching || untilThrow === null) return "";
  const tempo = Math.round(beats[first].tempo * sound.playbackRate);
  return squares ? `${counted(squares, "beat")} to go` : `${tempo} a minute`;
}

/** Return what stands over and under the large word. */
function aroundWord({ throws, isCatching, squares, untilThrow, first }) {
  if (isWaiting()) return aroundMark();
  if (throws || isCatching || untilThrow === null) return { over: "", under: "" };
  const hands = handsFilled(first);
  return {
    over: squares ? "" : "first throw in",
    under: hands ? `in hand: ${hands}` : "",
  };
}

/** Return what stands around the word in a wait: what the run before was. */
function aroundMark() {
  const { before, best, clean, drops } = marks;
  if (!before) return { over: "", under: "" };
  const catches = counted(before.caught, "catch", "es");
  const withNumber = { drop: "catches until the drop", clean: "clean catches" }; // which is large
  return {
    over: session.phase === "dropped"
      ? withNumber[before.mark] : [before.mark, catches].filter(Boolean).join(", "),
    under: `best ${best}, clean ${clean}, drops ${drops}`,
  };
}

/** Return how many objects each hand holds before a throw that opens a cycle. */
function handsFilled(first) {
  const { chapter, right } = beats[first];
  const { held, first: opens } = chapters[chapter];
  if (!held) return "";
  // Where the hands alternate, a cycle of an odd number of beats begins with the other hand.
  const isSwapped = Boolean(right) !== Boolean(beats[opens].right);
  const [left, rightHeld] = isSwapped ? [held[1], held[0]] : held;
  return `right ${rightHeld}, left ${left}`;
}

/** Return the throws of a cycle, and which of them is made; -1 for none yet. */
function cycleSeen({ throws, first, index }) {
  const at = throws ? index : first;
  if (at >= beats.length || session.phase === "ended") return { signs: [], made: -1 };
  const [begin, end] = [sameCycle(at, -1), sameCycle(at, 1)];
  const shown = beats.slice(begin, end + 1).filter(isShown);
  const made = throws ? shown.findLastIndex(({ time }) => time <= beats[index].time) : -1;
  return { signs: shown.map(notation), made };
}

/** Return what comes next: its title, in how many beats, and how one gets there. */
function next({ chapter, throws, index }) {
  const following = chapters.slice(chapter + 1);
  const target = following.find(({ kind }) => kind === "part" || kind === "rest");
  const change = following[0]?.first ?? beats.length;
  const bridge = following[0]?.kind === "bridge" && following[0].first !== null
    ? following[0] : null;
  const ways = bridge
    ? beats.slice(bridge.first, sameCycle(bridge.first, 1) + 1).filter(isShown).map(notation) : [];
  return {
    title: session.phase === "ended" ? "" : target?.title ?? "end",
    in: throws && session.phase !== "ended" ? change - index : null,
    by: [ways.length ? `by ${ways.join(" ")}` : "", target?.how ?? ""].filter(Boolean).join(", "),
  };
}

/** Beats ahead of which a hand is told of what it does besides throwing. */
const ACTIONS_AHEAD = 4;

/** Return what a hand does besides throwing, now or soon; nothing where that is not near. */
function actionSeen({ index, isPending }, hand) {
  if (isPending) return "";
  for (let ahead = 0; ahead <= ACTIONS_AHEAD; ahead += 1) {
    const found = actions.get(index + ahead)?.find(([name]) => name === hand);
    if (found) return ahead ? `${found[1]} in\u00a0${ahead}` : found[1];
  }
  return "";
}

/** Beats ahead of which a hand is told how it makes a throw: as long as its turn takes to come. */
const HOW_AHEAD = 2;

/** Return how a hand makes its throw now, or else its next one, where that is near. */
function howSeen({ throws, index }, hand) {
  for (let at = index; throws && at <= Math.min(index + HOW_AHEAD, beats.length - 1); at += 1) {
    if (beats[at][hand]) {
      return { text: beats[at].hows?.[hand === "left" ? 0 : 1] ?? "", isNow: at === index };
    }
  }
  return { text: "", isNow: false };
}

/** Return the cue that is said or holds, or else the next one. */
function cueSeen({ time }) {
  const now = course.cues.findLast((cue) => cue.time <= time && time < cue.until);
  if (now) return { text: now.text, isNow: true };
  const later = course.cues.find((cue) => cue.time > time);
  return later && session.phase !== "ended"
    ? { text: `cue in ${told((later.time - time) / sound.playbackRate)} \u201c${later.text}\u201d`, isNow: false }
    : { text: "", isNow: false };
}

/** Return all there is to see now. */
function glance() {
  const where = whereabouts();
  const { title, how, widest } = chapters[where.chapter];
  let shown = where.index;
  while (shown > 0 && !isShown(beats[shown])) shown -= 1;
  const bare = (sign) => sign.replace(/[[\]]/g, "");
  return {
    chapter: where.chapter,
    throws: where.throws,
    name: title,
    how,
    widest,
    word: largeWord(where),
    ...aroundWord(where),
    left: where.throws ? bare(beats[shown].left) : "",
    right: where.throws ? bare(beats[shown].right) : "",
    when: when(where),
    leftOver: session.phase === "ended"
      ? "" : `${told((course.seconds - where.time) / sound.playbackRate)} left`,
    leftDoes: actionSeen(where, "left"),
    rightDoes: actionSeen(where, "right"),
    hasHows: Boolean(chapters[where.chapter].hasHows),
    leftHow: howSeen({ ...where, index: shown }, "left"),
    rightHow: howSeen({ ...where, index: shown }, "right"),
    cycle: cycleSeen(where),
    next: next(where),
    cue: cueSeen(where),
  };
}
