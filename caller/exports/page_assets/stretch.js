/**
 * The sound slower or quicker at its own pitch, every click exactly at its beat.
 *
 * Windows of the sound are laid over each other closer together or further away, each where it best
 * goes on with the one before (waveform-similarity overlap-add: Verhelst and Roelands 1993). Near a
 * beat windows are laid exactly where they belong, so that a click is neither moved nor doubled;
 * between two beats the sound is stretched by as much more. A browser's own way of doing this moves
 * clicks by some twenty milliseconds.
 */

const even = (seconds) => 2 * Math.round((seconds * rate) / 2);
const WINDOW = even(0.024);
const HOP = WINDOW / 2;
const REACH = even(0.008); // how far a window may be moved
const BEFORE = even(0.002);
const HELD = even(0.03); // of a click: longer than its stroke
const COARSE = Math.max(1, Math.round(rate / 12000)); // frames that are stepped over at first
const STEEPEST = 4;

const rise = Float32Array.from({ length: WINDOW }, (_, index) =>
  0.5 - 0.5 * Math.cos((2 * Math.PI * (index + 0.5)) / WINDOW));

/**
 * Return points [frame stretched, frame of the sound] with straight lines between them: they show
 * where each frame comes from. `from` is the frame that is to be heard first.
 */
function stretchMap(from, speed) {
  const points = [[0, from]];
  for (const { time } of beats) {
    const frame = Math.round(time * rate);
    const place = (frame - from) / speed;
    const [begin, end] = [-WINDOW - BEFORE, HELD + WINDOW];
    const [placeBefore, frameBefore] = points.at(-1);
    if (frame + begin <= frameBefore || place + begin <= placeBefore) continue;
    const steep = (frame + begin - frameBefore) / (place + begin - placeBefore);
    if (steep > STEEPEST || steep < 1 / STEEPEST) continue; // beats too dense to keep all
    points.push([place + begin, frame + begin], [place + end, frame + end]);
  }
  const [place, frame] = points.at(-1);
  points.push([place + 1e12, frame + 1e12 * speed]);
  return points;
}

/** Return how alike the sound is from two places on, over half a window. */
function likeness(samples, one, other, step) {
  let sum = 0;
  for (let index = 0; index < HOP; index += step) sum += samples[one + index] * samples[other + index];
  return sum;
}

/** Return the place between two, at a step, from which the sound goes on most like from `wanted`. */
function likest(samples, wanted, low, high, step) {
  let [best, most] = [low, -Infinity];
  for (let place = low; place <= high; place += step) {
    const found = likeness(samples, wanted, place, step);
    if (found > most) [best, most] = [place, found];
  }
  return best;
}

/** Return a function that hands out the stretched sound from a frame on, block after block. */
function stretched(from, speed) {
  const points = stretchMap(from, speed);
  let at = 0; // the stretch of the map where the window is
  let hop = 0;
  let goesOn = null; // the frame with which the window before would go on
  let tails = [new Float32Array(HOP), new Float32Array(HOP)];

  /** Return where a window comes from, and whether it has to come from there. */
  function origin(place) {
    while (points[at + 1][0] <= place) at += 1;
    const [[place0, frame0], [place1, frame1]] = [points[at], points[at + 1]];
    const isHeld = at % 2 === 1; // between the two points of a beat
    const start = Math.round(frame0 + ((place - place0) * (frame1 - frame0)) / (place1 - place0));
    // Beside a beat no window may take in some of its click.
    return { start, isHeld, low: at ? frame0 - WINDOW : -Infinity, high: frame1 };
  }

  return async function block(hops) {
    const origins = Array.from({ length: hops }, (_, index) => origin((hop + index) * HOP));
    const [first, last] = [goesOn ?? origins[0].start, origins.at(-1).start];
    const begin = Math.min(first, origins[0].start) - REACH - WINDOW;
    const channels = await samplesBetween(begin, Math.max(last, first) + REACH + 3 * WINDOW);
    const mono = channels[0].map((sample, index) => sample + channels[1][index]);
    const out = channels.map(() => new Float32Array(hops * HOP));
    origins.forEach(({ start, isHeld, low, high }, index) => {
      let place = start - begin;
      if (!isHeld && goesOn !== null) {
        const [least, most] = [Math.max(start - REACH, low), Math.min(start + REACH, high)];
        const wanted = goesOn - begin;
        const near = likest(mono, wanted, least - begin, most - begin, COARSE);
        place = likest(mono, wanted, Math.max(near - COARSE, least - begin),
          Math.min(near + COARSE, most - begin), 1);
      }
      channels.forEach((samples, channel) => {
        const [tail, target] = [tails[channel], out[channel]];
        for (let frame = 0; frame < HOP; frame += 1) {
          target[index * HOP + frame] = tail[frame] + rise[frame] * samples[place + frame];
          tail[frame] = rise[HOP + frame] * samples[place + HOP + frame];
        }
      });
      goesOn = place + begin + HOP;
    });
    hop += hops;
    return out;
  };
}

/** Return a function that hands out the sound as it is, in blocks of as many frames. */
function unstretched(from) {
  let at = from;
  return async function block(hops) {
    at += hops * HOP;
    return samplesBetween(at - hops * HOP, at);
  };
}
