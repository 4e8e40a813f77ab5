// Keeps the round at hand and acts in order while there is no signal. Each act carries its own key, so that
// sending it twice does it once; each remembers when it was done.
"use strict";
const SHELF = "dipledger-1";
const ROUND = "/console/round";
const AT_HAND = [ROUND, "/console/static/console.css", "/console/static/console.js", "/console/static/icons.svg", "/console/static/drop.svg"];
const KEPT_OUT = ["/console/sign-in", "/console/sign-out", "/console/account"];

const store = (mode, use) => new Promise((resolve, reject) => {
  const opening = indexedDB.open("dipledger", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore("acts", { keyPath: "n", autoIncrement: true });
  opening.onerror = () => reject(opening.error);
  opening.onsuccess = () => {
    const change = opening.result.transaction("acts", mode);
    const asked = use(change.objectStore("acts"));
    change.oncomplete = () => { opening.result.close(); resolve(asked && asked.result); };
    change.onerror = () => { opening.result.close(); reject(change.error); };
  };
});
const acts = () => store("readonly", (kept) => kept.getAll());
const keep = (act) => store("readwrite", (kept) => kept.put(act));
const drop = (n) => store("readwrite", (kept) => kept.delete(n));

async function tell() {
  const waiting = (await acts()).map(({ n, what, at, refused }) => ({ n, what, at, refused }));
  for (const page of await self.clients.matchAll({ includeUncontrolled: true })) page.postMessage({ waiting });
}

// Fields that say what an act is, in words that the form itself showed.
function words(fields, path) {
  const said = fields.get("act_words");
  return said || decodeURIComponent(path.replace("/console/", "").replace(/[0-9a-f-]{36}/g, "").replace(/\/+/g, " "));
}

async function act(request) {
  const path = new URL(request.url).pathname;
  const body = await request.clone().text();
  try {
    return await fetch(request);
  } catch (noSignal) {
    const fields = new URLSearchParams(body);
    fields.set("kept_at", new Date().toISOString());
    await keep({ path, body: fields.toString(), at: fields.get("kept_at"), what: words(fields, path), refused: "" });
    await tell();
    return Response.redirect(ROUND + "?kept=1", 303);
  }
}

let sending = false;
async function send() {
  if (sending) return;
  sending = true;
  try {
    for (const one of await acts()) {
      if (one.refused) continue;
      let answer;
      try {
        answer = await fetch(one.path, {
          method: "POST", body: one.body, redirect: "manual", credentials: "same-origin",
          headers: { "Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json", "X-Sent-Later": "1" },
        });
      } catch (noSignal) { break; }
      // A redirect that is not followed says "done"; 401 and 403 wait for signing in; 5xx for a better moment.
      if (answer.type === "opaqueredirect" || answer.ok) await drop(one.n);
      else if (answer.status === 401 || answer.status === 403 || answer.status >= 500) break;
      else await keep({ ...one, refused: String(answer.status) });
    }
  } finally { sending = false; await tell(); }
}

async function page(request) {
  const address = new URL(request.url);
  try {
    const answer = await fetch(request);
    if (address.pathname === ROUND && answer.ok && answer.type === "basic") {
      const shelf = await caches.open(SHELF);
      await shelf.put(ROUND, answer.clone());
    }
    return answer;
  } catch (noSignal) {
    const kept = await caches.match(address.pathname === ROUND ? ROUND : request, { ignoreVary: true });
    return kept || Response.redirect(ROUND, 302);
  }
}

async function still(request) {
  const shelf = await caches.open(SHELF);
  try {
    const answer = await fetch(request);
    if (answer.ok) await shelf.put(request, answer.clone());
    return answer;
  } catch (noSignal) {
    return (await shelf.match(request, { ignoreVary: true })) || Response.error();
  }
}

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELF).then((shelf) => shelf.addAll(AT_HAND.slice(1))).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, origin } = new URL(request.url);
  if (origin !== location.origin || !pathname.startsWith("/console/")) return;
  if (request.method === "POST") {
    if (pathname === "/console/sign-out") event.waitUntil(caches.delete(SHELF));
    // Photos are too large to be kept here: without signal their form stays open and says so itself.
    if (pathname.endsWith("/photos")) return;
    if (!KEPT_OUT.some((start) => pathname.startsWith(start))) event.respondWith(act(request));
  } else if (request.mode === "navigate") event.respondWith(page(request));
  else if (pathname.startsWith("/console/static/")) event.respondWith(still(request));
});
self.addEventListener("message", (event) => {
  if (event.data === "send") event.waitUntil(send());
  else if (event.data === "tell") event.waitUntil(tell());
  else if (event.data && event.data.forget) event.waitUntil(drop(event.data.forget).then(tell));
});
