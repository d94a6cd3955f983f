// The last pace aloud, a tone against the called pace, and a screen that stays on.
(function () {
  const table = window.stunpaceTable;
  const TONES = { slower: [494, 370], on: [494, 494], faster: [494, 659] };  // Hz, our own choice
  const on = { say: false, tone: false, awake: true };
  const notes = {};
  let sound = null, lock = null, isAsking = false, told = null;

  function note(about, word) {
    if (!table.page) return;  // voices may be there before the page
    notes[about] = word ? table.words[word] : "";
    window.dash_clientside.set_props(
      "table-aids-note", { children: Object.values(notes).filter(Boolean).join(" ") });
  }

  // ---- voice: one of the device's own only, so that nothing leaves it
  function ownVoice() {
    const voices = window.speechSynthesis ? window.speechSynthesis.getVoices() : [];
    const own = voices.filter(one => one.localService);
    return own.find(one => one.lang.startsWith(document.documentElement.lang)) || own[0];
  }
  function checkVoice() { note("say", on.say && !ownVoice() ? "no_voice" : ""); }
  function say(text) {
    const voice = ownVoice();
    if (!voice) return checkVoice();
    const spoken = new SpeechSynthesisUtterance(text);
    spoken.voice = voice;
    spoken.lang = voice.lang;
    window.speechSynthesis.cancel();  // the newest pace, not a queue of old ones
    window.speechSynthesis.speak(spoken);
  }
  if (window.speechSynthesis) window.speechSynthesis.addEventListener("voiceschanged", checkVoice);

  // ---- tone
  function wakeSound() {
    if (!on.tone || !window.AudioContext) return;
    const mayStart = !navigator.userActivation || navigator.userActivation.isActive;
    if (!sound && !mayStart) return note("tone", "tap_first");
    sound = sound || new AudioContext();
    const asleep = () => note("tone", on.tone && sound.state !== "running" ? "tap_first" : "");
    if (sound.state === "running") asleep(); else { sound.resume().then(asleep); asleep(); }
  }
  function tone(which) {
    if (!sound || sound.state !== "running" || !TONES[which]) return;
    TONES[which].forEach((pitch, k) => {
      const start = sound.currentTime + 0.02 + 0.2 * k;
      const voice = sound.createOscillator(), level = sound.createGain();
      voice.frequency.value = pitch;
      level.gain.setValueAtTime(0, start);
      level.gain.linearRampToValueAtTime(0.35, start + 0.015);
      level.gain.exponentialRampToValueAtTime(0.001, start + 0.18);
      voice.connect(level).connect(sound.destination);
      voice.start(start);
      voice.stop(start + 0.2);
      table.toned = which;
    });
  }

  // ---- screen
  async function stayAwake() {
    const wanted = on.awake && table.page && !document.hidden;
    if (!wanted) { if (lock) { lock.release(); lock = null; } return note("awake", ""); }
    if (!window.isSecureContext) return note("awake", "no_awake_plain");
    if (!navigator.wakeLock) return note("awake", "no_awake");
    if (lock || isAsking) return;
    isAsking = true;
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; });
      note("awake", "");
    } catch (fault) {
      note("awake", "no_awake_now");
    } finally {
      isAsking = false;
    }
  }

  // ---- a new stroke: the card itself says what to say
  function heard(card) {
    const now = `${card.dataset.n}:${card.dataset.stroke}`;
    const isNew = told !== null && now !== told;
    told = now;
    if (!isNew) return;
    if (on.tone && card.dataset.against) tone(card.dataset.against);
    if (on.say) window.setTimeout(() => say(card.dataset.say), card.dataset.against && on.tone ? 450 : 0);
  }
  new MutationObserver(() => {
    const card = document.querySelector("#table-pace > [data-stroke]");
    if (card) heard(card);
    else if (document.querySelector("#table-pace .pace-number.waiting")) told = "";
  }).observe(document.documentElement, {
    subtree: true, childList: true, attributes: true, attributeFilter: ["data-stroke", "data-n"],
  });

  document.addEventListener("visibilitychange", stayAwake);
  document.addEventListener("pointerdown", wakeSound);
  document.addEventListener("keydown", wakeSound);
  table.onStarted.push(() => { told = null; stayAwake(); checkVoice(); });

  window.stunpaceAids = function (say, tone, awake) {
    Object.assign(on, { say: Boolean(say), tone: Boolean(tone), awake: awake !== false });
    table.aids = on;
    checkVoice();
    wakeSound();
    if (!on.tone) note("tone", "");
    stayAwake();
    return window.dash_clientside.no_update;
  };
})();
