/** The sound: it stands in the page in pieces, which become one blob as the page is read. */

const sound = document.getElementById("sound");
const soundPieces = [];

/** Take up the piece that stands just before the script that calls this, and its room with it. */
function take() {
  const caller = document.currentScript;
  const holder = caller.previousElementSibling;
  const text = atob(holder.textContent);
  const bytes = new Uint8Array(text.length);
  for (let index = 0; index < text.length; index += 1) bytes[index] = text.charCodeAt(index);
  soundPieces.push(new Blob([bytes]));
  holder.remove();
  caller.remove();
}

/** Let the sound be played that has been taken up, which is of a `kind` such as "audio/flac". */
function ready(kind) {
  sound.src = URL.createObjectURL(new Blob(soundPieces, { type: kind }));
  element("start").disabled = false;
}

// The scripts that follow the pieces call these.
Object.assign(window, { take, ready });
