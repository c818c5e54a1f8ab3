/** Keeps the screen on while something goes on, where the browser can do that and allows it. */

const SLEEPS = "This browser lets the screen go dark: choose a long screen time-out.";
const awake = { lock: null, isAsked: false };

async function keepAwake() {
  if (awake.isAsked || awake.lock || document.visibilityState !== "visible") return;
  awake.isAsked = true;
  try {
    awake.lock = await navigator.wakeLock.request("screen");
    awake.lock.addEventListener("release", () => {
      awake.lock = null;
    });
    put("awake", "");
  } catch {
    put("awake", SLEEPS); // no such thing here, or not for a page from a file, or to save power
  }
  awake.isAsked = false;
}

function letSleep() {
  awake.lock?.release();
}

// The lock is lost when the page is hidden.
document.addEventListener("visibilitychange", () => {
  if (!["cover", "ended"].includes(session.phase)) keepAwake();
});
