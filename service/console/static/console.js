// Comfort only: every act works without this file.
"use strict";

// Photos do not wait in the browser: without signal their form stays as it is and says so.
function noSignalFor(form) {
  const { needsSignal } = form.dataset;
  if (!needsSignal) return false;
  form.querySelectorAll(".no-signal").forEach((said) => said.remove());
  if (navigator.onLine) return false;
  const said = document.createElement("p");
  said.className = "wrong no-signal";
  said.setAttribute("role", "alert");
  said.textContent = needsSignal;
  form.append(said);
  return true;
}

// A form is sent once, however often it is pressed; its key makes a second sending harmless anyway.
document.addEventListener("submit", (event) => {
  const pressed = event.submitter;
  if (!pressed) return;
  if (noSignalFor(event.target)) { event.preventDefault(); return; }
  setTimeout(() => { pressed.disabled = true; }, 0);
  setTimeout(() => { pressed.disabled = false; }, 8000);
});

document.querySelectorAll("[data-print]").forEach((button) => button.addEventListener("click", () => print()));

// Timers count to a moment that the page names, so a reload changes nothing; the page's own clock is
// corrected by the house's.
const timers = [...document.querySelectorAll("[data-due]")].map((shown) => ({
  shown,
  due: Date.parse(shown.dataset.due),
  off: Date.parse(shown.dataset.now) - Date.now(),
  rung: false,
}));
const SHORT_MS = 12 * 3600 * 1000;
const two = (n) => String(n).padStart(2, "0");
let sound = null;

function ring() {
  if (!sound) return;
  [0, 0.35, 0.7].forEach((after) => {
    const tone = sound.createOscillator();
    const loud = sound.createGain();
    tone.frequency.value = 880;
    loud.gain.value = 0.2;
    tone.connect(loud).connect(sound.destination);
    tone.start(sound.currentTime + after);
    tone.stop(sound.currentTime + after + 0.2);
  });
}

function tick() {
  for (const timer of timers) {
    const left = Math.round((timer.due - timer.off - Date.now()) / 1000);
    if (Math.abs(left) * 1000 > SHORT_MS) continue;
    const size = Math.abs(left);
    const hours = Math.floor(size / 3600);
    const shown = `${hours ? `${hours}:` : ""}${two(Math.floor(size / 60) % 60)}:${two(size % 60)}`;
    timer.shown.textContent = left < 0 ? `+${shown} ${timer.shown.dataset.over || "over"}` : shown;
    timer.shown.classList.toggle("over", left < 0);
    if (left <= 0 && left > -5 && !timer.rung) { timer.rung = true; ring(); if (navigator.vibrate) navigator.vibrate([300, 100, 300]); }
  }
}
if (timers.length) {
  const near = timers.some((timer) => Math.abs(timer.due - timer.off - Date.now()) < SHORT_MS);
  tick();
  setInterval(tick, 250);
  if (near) {
    // Sound needs one touch of the page before a browser lets it be heard.
    addEventListener("pointerdown", () => { sound = sound || new AudioContext(); }, { once: true });
    if (navigator.wakeLock) {
      const awake = () => { if (document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => {}); };
      awake();
      document.addEventListener("visibilitychange", awake);
    }
  }
}

// What was done without signal waits in the service worker and is shown until it is sent.
const unsent = document.getElementById("unsent");
function showWaiting(waiting) {
  unsent.hidden = !waiting.length;
  unsent.replaceChildren();
  if (!waiting.length) return;
  const title = document.createElement("p");
  title.textContent = (navigator.onLine ? unsent.dataset.sending : unsent.dataset.kept).replace("{n}", waiting.length);
  const list = document.createElement("ul");
  for (const one of waiting) {
    const line = document.createElement("li");
    line.textContent = `${one.what}, ${new Date(one.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}`;
    if (one.refused) {
      const drop = document.createElement("button");
      drop.type = "button";
      drop.textContent = unsent.dataset.drop;
      drop.addEventListener("click", () => worker.postMessage({ forget: one.n }));
      line.append(` (${unsent.dataset.refused}) `, drop);
    }
    list.append(line);
  }
  const box = document.createElement("div");
  box.append(title, list);
  unsent.append(box);
}
let worker = null;
if ("serviceWorker" in navigator && document.querySelector(".top")) {
  navigator.serviceWorker.addEventListener("message", (event) => { if (event.data.waiting) showWaiting(event.data.waiting); });
  navigator.serviceWorker.register("/console/service-worker.js", { scope: "/console/" });
  navigator.serviceWorker.ready.then((found) => {
    worker = found.active;
    worker.postMessage("tell");
    worker.postMessage("send");
  });
  addEventListener("online", () => { if (worker) worker.postMessage("send"); });
  setInterval(() => { if (worker && !unsent.hidden && navigator.onLine) worker.postMessage("send"); }, 20000);
}
