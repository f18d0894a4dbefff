// Calls, spoken once each by the device's own voice, and the sync tone for the video.

let silent = false;
let spoken = null;

// Only voices of the device itself: some browsers offer voices that send the words, and with them
// players' names, to a server elsewhere.
function ownVoice(language) {
  const own = "speechSynthesis" in window
    ? speechSynthesis.getVoices().filter((voice) => voice.localService) : [];
  const wanted = [language, document.documentElement.lang].filter(Boolean);
  const found = wanted.map((one) => own.find((voice) => voice.lang.startsWith(one)));
  return found.find(Boolean) ?? own[0] ?? null;
}

export function hasVoice() {
  return ownVoice() !== null;
}

export function silence(quiet) {
  silent = quiet;
  if (quiet && "speechSynthesis" in window) speechSynthesis.cancel();
}

// In the language of the player who is called, where that is another one than the page's.
function say(text, language = "") {
  const voice = ownVoice(language);
  if (voice === null) return;
  const words = new SpeechSynthesisUtterance(text);
  words.voice = voice;
  words.lang = voice.lang;
  speechSynthesis.speak(words);
}

export function speak(calls) {
  const newest = calls.at(-1)?.number ?? 0;
  if (spoken === null) {
    spoken = newest; // what was called before this page was opened is not called again
    return;
  }
  for (const call of calls) {
    if (call.number <= spoken) continue;
    spoken = call.number;
    if (!silent) say(call.text, call.language);
  }
}

// Voices are loaded when they are first asked for; and some browsers let a page speak only once it
// has done so after a touch.
ownVoice();
document.addEventListener("pointerdown", () => say(" "), { once: true });

// The same sweep that the review looks for: 1,200 to 3,600 Hz in 0.4 s. Returns how long ago it
// sounded: negative, since it is still to come.
export function playTone() {
  const audio = new AudioContext();
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  const start = audio.currentTime + 0.05;
  oscillator.frequency.setValueAtTime(1200, start);
  oscillator.frequency.linearRampToValueAtTime(3600, start + 0.4);
  gain.gain.setValueAtTime(0, start);
  gain.gain.linearRampToValueAtTime(0.9, start + 0.01);
  gain.gain.setValueAtTime(0.9, start + 0.39);
  gain.gain.linearRampToValueAtTime(0, start + 0.4);
  oscillator.connect(gain).connect(audio.destination);
  oscillator.start(start);
  oscillator.stop(start + 0.4);
  oscillator.addEventListener("ended", () => audio.close());
  return -(start - audio.currentTime + (audio.outputLatency ?? 0));
}
