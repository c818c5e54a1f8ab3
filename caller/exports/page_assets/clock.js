/**
 * The sound's own clock. Some browsers move a media element's `currentTime` in steps; between two
 * of them time goes on as the computer's does, at most as far as the step before, and never back.
 */

/** Seconds; a longer step is a leap, to another place or past a time in which nobody looked. */
const LONGEST_STEP = 0.3;

const clock = { step: 0, since: 0, reach: 0, shown: 0 };

/** Return the moment of the sound that is heard, in seconds. */
function heard() {
  const now = performance.now() / 1000;
  const step = sound.currentTime;
  const moved = step - clock.step;
  if (sound.paused || sound.seeking || moved < 0 || moved > LONGEST_STEP) {
    Object.assign(clock, { step, since: now, reach: 0, shown: step });
  } else if (moved > 0) {
    Object.assign(clock, { step, since: now, reach: moved });
  }
  clock.shown = Math.max(clock.shown, step + Math.min(now - clock.since, clock.reach));
  return clock.shown;
}
