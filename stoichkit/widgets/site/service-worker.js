// @ts-check
/**
 * Keeps the files of the page in the browser, so that it opens without a network after one visit.
 *
 * The builder writes a line above this one: `self.FILES`, path to digest of its content, those of the page itself
 * first, then those of the first answer, then the rest; `self.FIRST`, how many the page itself has; and
 * `self.DEFLATED`, which of them lie there a second time, smaller, for who can undo that. A file is kept
 * under its digest: after an update only what has changed is fetched again, and an old page goes on with old files.
 */

/** @type {any} */
const scope = self;
/** @type {[string, string][]} */
const files = Object.entries(scope.FILES);
const base = new URL("./", scope.location.href).href;
const STORE = `stoichkit ${base}`;
/** What a worker that came from here may do: load from here, and compile. */
const WORKER_POLICY =
  "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; connect-src 'self'; base-uri 'none'";

const key = (/** @type {string} */ path, /** @type {string} */ digest) => `${base}${path}?${digest}`;

/** @param {string} path */
async function kept(path) {
  const store = await caches.open(STORE);
  return store.match(key(path, scope.FILES[path]));
}

/** @param {string} path */
async function fetched(path) {
  const deflated = scope.DEFLATED.includes(path);
  let answer = await fetch(`${base}${path}${deflated ? ".deflated" : ""}`, { cache: "no-cache" });
  if (!answer.ok) return answer;
  if (deflated) {
    const headers = { "Content-Type": "text/javascript" };
    answer = new Response(answer.body?.pipeThrough(new DecompressionStream("deflate")), { headers });
  }
  const store = await caches.open(STORE);
  const copy = answer.clone();
  store.put(key(path, scope.FILES[path]), copy).catch(() => {}); // full: it is fetched again next time
  return answer;
}

/** @param {string} path @param {Response} answer */
function guarded(path, answer) {
  if (path !== "worker.js") return answer;
  const headers = new Headers(answer.headers);
  headers.set("Content-Security-Policy", WORKER_POLICY);
  return new Response(answer.body, { status: answer.status, statusText: answer.statusText, headers });
}

/** @param {string} path */
async function answer(path) {
  return guarded(path, (await kept(path)) || (await fetched(path)));
}

/** Fetch what is not kept yet of the first files, one after the other. */
async function complete(number = files.length) {
  for (const [path] of files.slice(0, number)) {
    if (await kept(path)) continue;
    const found = await fetched(path);
    if (!found.ok) throw new Error(`${path}: ${found.status}`);
  }
}

async function clean() {
  const store = await caches.open(STORE);
  const wanted = new Set(files.map(([path, digest]) => key(path, digest)));
  for (const one of await store.keys()) if (!wanted.has(one.url)) await store.delete(one);
}

scope.addEventListener("install", (/** @type {any} */ event) => {
  // an update takes the place of the old files when all of it is here, a first visit begins at once
  const update = Boolean(scope.registration.active);
  event.waitUntil(complete(update ? files.length : scope.FIRST));
  if (!update) scope.skipWaiting();
});

scope.addEventListener("activate", (/** @type {any} */ event) => {
  event.waitUntil(clean().then(() => scope.clients.claim()));
});

scope.addEventListener("fetch", (/** @type {any} */ event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || !url.href.startsWith(base)) return;
  const path = url.pathname.slice(new URL(base).pathname.length) || "index.html";
  if (path in scope.FILES) event.respondWith(answer(path));
});

scope.addEventListener("message", (/** @type {any} */ event) => {
  const { data } = event;
  if (data === "complete")
    event.waitUntil(
      complete().then(
        () => event.source.postMessage("complete"),
        () => event.source.postMessage("incomplete"),
      ),
    );
  else if (data === "replace") scope.skipWaiting();
});
