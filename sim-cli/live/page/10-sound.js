// Sound: one burst a working cycle, its strength by the computed work. A synthesis, no recording.
// The numbers of the beat come with the page's data: they are those of the program's own sound.
const Sound = (() => {
  const { at, set } = Page;
  const AHEAD_S = 0.12;
  const SLACK_S = 0.25;
  const FADE_S = 0.02;
  const LOST = 0.2;
  // A burst is cut where it is below the last bit.
  const CUT_OFF = 1e-5;
  const voice = Bench.data.voice;
  const played = { beats: 0, lost: 0 };
  let audio = null;
  let out = null;
  let analyser = null;
  let burst = null;
  let offset = null;

  const isOn = () => at("sound").getAttribute("aria-pressed") === "true";
  const loudness = () => (isOn() ? (at("volume").valueAsNumber / 100) ** 2 : 0);

  // The pressure of a firing of loudness 1, over time.
  function pressure(t) {
    const ring = (one) => one.share * Math.exp(-t / one.decay_s) * Math.sin(2 * Math.PI * one.pitch_hz * t);
    return (1 - Math.exp(-t / voice.rise_s)) * voice.resonances.reduce((sum, one) => sum + ring(one), 0);
  }

  function open() {
    audio = new AudioContext();
    out = audio.createGain();
    out.gain.value = 0;
    analyser = audio.createAnalyser();
    out.connect(analyser);
    analyser.connect(audio.destination);
    const lasts = -Math.log(CUT_OFF) * Math.max(...voice.resonances.map((one) => one.decay_s));
    burst = audio.createBuffer(1, Math.ceil(lasts * audio.sampleRate), audio.sampleRate);
    const wave = burst.getChannelData(0);
    for (let i = 0; i < wave.length; i += 1) wave[i] = voice.level * pressure(i / audio.sampleRate);
  }

  // No step in the gain: a step clicks.
  const level = () => out && out.gain.setTargetAtTime(loudness(), audio.currentTime, FADE_S);

  function play(time, work) {
    const source = audio.createBufferSource();
    const gain = audio.createGain();
    source.buffer = burst;
    gain.gain.value = Math.min(voice.most, voice.least + (1 - voice.least) * Math.max(0, work));
    source.connect(gain).connect(out);
    source.onended = () => gain.disconnect();
    source.start(time);
    played.beats += 1;
    if (work < LOST) played.lost += 1;
  }

  at("sound").addEventListener("click", async () => {
    set(at("sound"), "aria-pressed", String(!isOn()));
    if (isOn() && !audio) open();
    if (isOn()) await audio.resume();
    offset = null;
    level();
    if (isOn() && Bench.pace() > 1) Bench.tell("The sound is heard at x1.");
  });
  at("volume").addEventListener("input", level);

  Bench.onFrame((frame) => {
    if (!audio || audio.state !== "running" || !isOn() || Bench.pace() !== 1) {
      offset = null;
      return;
    }
    for (const [time, , work] of frame.heard.beats) {
      const late = offset === null ? Infinity : time + offset - audio.currentTime - AHEAD_S;
      if (late < -AHEAD_S || late > SLACK_S) offset = audio.currentTime + AHEAD_S - time;
      play(time + offset, work);
    }
  });

  // How loud it is now, 0 to 1, and what has been played: for tests.
  function now() {
    if (!analyser) return 0;
    const wave = new Float32Array(analyser.fftSize);
    analyser.getFloatTimeDomainData(wave);
    return wave.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
  }
  return { level: now, played: () => ({ ...played }) };
})();
