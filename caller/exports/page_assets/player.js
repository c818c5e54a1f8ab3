/**
 * Plays the sound through the browser's audio clock; it is asked as a media element would be, and
 * tells of "pause", "seeking", "timeupdate" and "ended".
 *
 * A run is the sound from one place on, at one speed. Its blocks are laid end to end on the audio
 * clock, some time ahead, each from a whole frame, so that nothing lies between them.
 */

const BLOCK_SECONDS = 0.4;
const AHEAD_SECONDS = 2.5; // a page that is out of sight may act once a second only
const SOON = 0.06; // between the making of the first block and its sound
const CHANGE = 0.25; // until another speed is heard
const TICK = 100; // milliseconds
const FADE = 0.004;
const LONGEST_SINCE = 1; // seconds since the browser last told which moment is heard

class Player extends EventTarget {
  constructor() {
    super();
    this.context = null;
    this.runs = []; // the last one is the newest; one before it may still be heard
    this.place = 0; // seconds of the sound, while nothing is heard
    this.speed = 1;
    this.duration = frames / rate;
    this.paused = true;
    this.ended = false;
    this.wished = 0; // how often something else was asked for
  }

  /** Let the browser allow sound: this has to be called where a person presses something. */
  unlock() {
    if (!this.context) {
      // On phones that have a switch for silence, this is what it does not silence.
      if (navigator.audioSession) navigator.audioSession.type = "playback";
      this.context = new AudioContext({ sampleRate: rate, latencyHint: "balanced" });
      this.context.addEventListener("statechange", () => {
        if (!this.paused && this.context.state !== "running" && this.runs.length) this.pause();
      });
    }
    return this.context.resume();
  }

  /** Return the moment of the audio clock that is heard now. */
  heardMoment() {
    const { currentTime, outputLatency = 0 } = this.context;
    const { contextTime = 0, performanceTime = 0 } = this.context.getOutputTimestamp?.() ?? {};
    const since = (performance.now() - performanceTime) / 1000;
    if (Math.abs(since) > LONGEST_SINCE) return currentTime - outputLatency; // no stamp to go by
    // Firefox's stamp does not say when a moment is heard but when it is computed.
    return contextTime + since - Math.max(0, outputLatency - Math.max(0, currentTime - contextTime));
  }

  get currentTime() {
    if (this.paused || !this.runs.length) return this.place;
    const moment = this.heardMoment();
    const run = this.runs.findLast(({ at }) => at <= moment) ?? this.runs[0];
    const time = run.from + Math.max(0, moment - run.at) * run.speed;
    this.place = Math.min(this.duration, Math.max(this.place, time)); // a clock never goes back
    return this.place;
  }

  set currentTime(seconds) {
    this.silence();
    this.place = Math.min(this.duration, Math.max(0, seconds));
    this.ended = false;
    this.dispatchEvent(new Event("seeking"));
    prepare(Math.round(this.place * rate)); // while hands are filled there is time for it
    if (!this.paused) this.begin().catch(() => this.fail());
  }

  get playbackRate() {
    return this.speed;
  }

  /** Another speed is heard a little later, with nothing between. */
  set playbackRate(speed) {
    this.speed = speed;
    const run = this.runs.at(-1);
    if (this.paused || !run) return;
    const at = this.frameAfter(Math.max(run.at, this.context.currentTime + CHANGE));
    this.begin({ from: run.from + (at - run.at) * run.speed, at }).catch(() => this.fail());
  }

  /** Let the sound be heard from where it is; rejects if it cannot be. */
  async play() {
    if (!this.paused) return;
    if (this.ended) this.place = 0;
    Object.assign(this, { paused: false, ended: false });
    await this.begin();
  }

  pause() {
    if (this.paused) return;
    this.place = this.currentTime;
    this.paused = true;
    this.silence();
    this.dispatchEvent(new Event("pause"));
  }

  /** End all that is played or to be played. */
  silence() {
    this.wished += 1;
    for (const run of this.runs) this.end(run, this.context.currentTime);
    this.runs = [];
  }

  /** End a run at a moment of the audio clock, softly. */
  end(run, moment) {
    run.gain.gain.setValueAtTime(1, moment);
    run.gain.gain.linearRampToValueAtTime(0, moment + FADE);
    for (const source of run.sources) source.stop(moment + FADE);
    Object.assign(run, { isOver: true, until: moment + FADE });
  }

  frameAfter(moment) {
    return Math.ceil(moment * rate) / rate;
  }

  /** Begin a run: at once, or where the one before is to end. */
  async begin({ from = this.place, at = null } = {}) {
    this.wished += 1;
    const wish = this.wished;
    await this.unlock();
    const { speed } = this;
    const start = Math.round(from * rate);
    const block = speed === 1 ? unstretched(start) : stretched(start, speed);
    const gain = new GainNode(this.context);
    gain.connect(this.context.destination);
    const run = { from: start / rate, speed, at, block, gain, sources: new Set(), laid: 0 };
    const first = await block(Math.ceil((BLOCK_SECONDS * rate) / HOP));
    if (wish !== this.wished) return;
    for (const before of this.runs) {
      if (!before.isOver) this.end(before, at ?? this.context.currentTime); // it fades once
    }
    run.at ??= this.frameAfter(this.context.currentTime + SOON);
    this.runs = [...this.runs.filter(({ until }) => until > this.context.currentTime), run];
    this.lay(run, first);
    this.goOn(run).catch(() => this.fail());
    if (run.speed !== this.speed) this.playbackRate = this.speed; // it was changed meanwhile
  }

  /** Lay a block behind those of a run. */
  lay(run, channels) {
    const buffer = new AudioBuffer({ length: channels[0].length, numberOfChannels: 2, sampleRate: rate });
    channels.forEach((samples, channel) => buffer.copyToChannel(samples, channel));
    const source = new AudioBufferSourceNode(this.context, { buffer });
    source.connect(run.gain);
    const when = (Math.round(run.at * rate) + run.laid) / rate;
    const late = Math.max(0, this.context.currentTime - when);
    source.start(when + late, late);
    source.addEventListener("ended", () => run.sources.delete(source));
    run.sources.add(source);
    run.laid += buffer.length;
  }

  /** Lay what a run needs next, and look again after a while, until it is over. */
  async goOn(run) {
    const moment = this.context.currentTime - run.at;
    while (!run.isOver && run.laid / rate < moment + AHEAD_SECONDS
      && run.from + (run.laid / rate) * run.speed < this.duration) {
      const channels = await run.block(Math.ceil((BLOCK_SECONDS * rate) / HOP));
      if (!run.isOver) this.lay(run, channels);
    }
    if (run.isOver) return;
    this.dispatchEvent(new Event("timeupdate"));
    if (this.currentTime >= this.duration) {
      Object.assign(this, { paused: true, ended: true });
      this.silence();
      this.dispatchEvent(new Event("ended"));
    } else setTimeout(() => this.goOn(run).catch(() => this.fail()), TICK);
  }

  /** Stop where the sound could not be decoded. */
  fail() {
    this.pause();
    this.dispatchEvent(new Event("error"));
  }
}

const sound = new Player();
const heard = () => sound.currentTime;

// The scripts that follow call the first two; what is heard can be asked from outside.
Object.assign(window, { take, ready, sound });
