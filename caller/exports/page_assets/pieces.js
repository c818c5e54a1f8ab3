/**
 * The sound as samples. It stands in the page in pieces, which are decoded when they are wanted.
 *
 * In each piece a pulse tells how late the browser's decoder is, so that pieces join exactly.
 */

const { rate, frames, pieceFrames, margin, quiet, lead } = course.sound;
const pieces = [];

/** Take up the piece that stands just before the script that calls this, and its room with it. */
function take() {
  const caller = document.currentScript;
  const holder = caller.previousElementSibling;
  const text = atob(holder.textContent);
  const bytes = new Uint8Array(text.length);
  for (let index = 0; index < text.length; index += 1) bytes[index] = text.charCodeAt(index);
  pieces.push(new Blob([bytes]));
  holder.remove();
  caller.remove();
}

/** Pieces that stay decoded: one that is heard, one to come, one before a leap. */
const MOST_DECODED = 3;
const decoded = new Map();

/** Return the frame of the pulse: the largest sample among those where it can be. */
function pulseIn(samples) {
  let top = 0;
  for (let index = 1; index < quiet; index += 1) if (samples[index] > samples[top]) top = index;
  return top;
}

/** Return the channels of a piece, without its head; frame 0 is the first of the piece. */
async function decode(index) {
  const bytes = await pieces[index].arrayBuffer();
  const buffer = await new OfflineAudioContext(2, 1, rate).decodeAudioData(bytes);
  const first = pulseIn(buffer.getChannelData(0)) + lead;
  return [0, buffer.numberOfChannels - 1].map((channel) =>
    buffer.getChannelData(channel).subarray(first, first + pieceFrames));
}

/**
 * Return a piece, decoded now or before; what has not been asked for longest is let go, and so is
 * what could not be decoded, so that it is tried again.
 */
function pieceAt(index) {
  const found = decoded.get(index) ?? decode(index);
  found.catch(() => decoded.get(index) === found && decoded.delete(index));
  decoded.delete(index);
  decoded.set(index, found);
  if (decoded.size > MOST_DECODED) decoded.delete(decoded.keys().next().value);
  return found;
}

/** Decode what lies about a frame before it is wanted; whether it can be will show then. */
function prepare(frame) {
  pieceAt(Math.min(Math.floor(frame / pieceFrames), pieces.length - 1)).catch(() => {});
}

/** Return both channels from a frame up to another; there is silence outside of the sound. */
async function samplesBetween(from, to) {
  const channels = [new Float32Array(to - from), new Float32Array(to - from)];
  const last = Math.min(pieces.length - 1, Math.floor((to - 1) / pieceFrames));
  for (let index = Math.max(0, Math.floor(from / pieceFrames)); index <= last; index += 1) {
    const piece = await pieceAt(index);
    const start = index * pieceFrames;
    const [begin, end] = [Math.max(from, start), Math.min(to, start + piece[0].length, frames)];
    if (begin >= end) continue;
    piece.forEach((samples, channel) => {
      channels[channel].set(samples.subarray(begin - start, end - start), begin - from);
    });
  }
  return channels;
}

/** Let the page be started once its sound can be decoded. */
async function ready() {
  try {
    await pieceAt(0);
    element("start").disabled = false;
  } catch {
    tellTrouble("This browser cannot play the sound in this page.");
  }
}
