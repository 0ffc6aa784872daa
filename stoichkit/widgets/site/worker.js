// @ts-check
/** Python in a web worker: loads it, then hands texts from the page to it and back. See site.js. */

const CORE = ["numpy"];
/** What is loaded after the first answer: name of the package, what it is called, its archive if it is pure Python. */
const LATER = [
  ["scipy", "SciPy", ""],
  ["sympy", "SymPy", "sympy.zip"],
  ["openpyxl", "What reads workbooks", "openpyxl.zip"],
];
const START = `
import asyncio, sys
from pathlib import Path
from js import said
from stoichkit.widgets.kit.work import Breath
from stoichkit.widgets.site.kernel import Kernel

def can_breathe():
    try:
        from pyodide.ffi import can_run_sync
    except ImportError:
        return False
    return can_run_sync()

def breathe():
    """Let what has come from the page meanwhile have its turn, where the browser can do that."""
    from pyodide.ffi import run_sync
    if can_breathe():
        run_sync(asyncio.sleep(0.001))

Breath.take = breathe
kernel = Kernel(said, Path("/kept"), session=session, base=base, expected=expected)
kernel
`;

/** @type {any} */
const scope = self;
/** @type {any} */
let python = null;
/** @type {any} */
let kernel = null;

const say = (/** @type {string} */ kind, /** @type {any} */ text) => scope.postMessage({ kind, text });
scope.said = say;

/** What the builder has written smaller, by its usual name. */
const DEFLATED = "pyodide.asm.wasm";

/**
 * Tell the page how many bytes have come; whoever asked for them gets what was asked for.
 * @returns {() => void} ends that
 */
function count() {
  const plain = scope.fetch;
  let done = 0;
  scope.fetch = async (/** @type {any} */ asked, /** @type {any} */ how) => {
    const deflated = String(asked.url || asked).endsWith(DEFLATED);
    const answer = await (deflated ? plain(`${asked.url || asked}.deflated`) : plain(asked, how));
    if (!answer.body || !answer.ok) return answer;
    const counted = new TransformStream({
      transform(chunk, control) {
        done += chunk.byteLength;
        say("bytes", done);
        control.enqueue(chunk);
      },
    });
    let body = answer.body.pipeThrough(counted);
    if (!deflated) return new Response(body, { headers: answer.headers });
    body = body.pipeThrough(new DecompressionStream("deflate"));
    return new Response(body, { headers: { "Content-Type": "application/wasm" } });
  };
  return () => {
    scope.fetch = plain;
  };
}

/** @param {string} path @param {typeof fetch} [get] */
async function bytes(path, get = scope.fetch) {
  const answer = await get(new URL(path, scope.location.href).href);
  if (!answer.ok) throw new Error(`${path}: ${answer.status}`);
  return answer.arrayBuffer();
}

function unpack(/** @type {ArrayBuffer} */ archive) {
  const place = python.runPython("import sysconfig; sysconfig.get_path('purelib')");
  python.unpackArchive(archive, "zip", { extractDir: place });
}

/** @param {any} given */
async function start({ session, base, kept, fragment, screen }) {
  const stop = count();
  say("stage", "Python is being loaded.");
  const own = bytes("stoichkit.zip");
  const { loadPyodide } = await import(new URL("pyodide/pyodide.mjs", scope.location.href).href);
  const indexURL = new URL("pyodide/", scope.location.href).href;
  python = await loadPyodide({ indexURL, packages: CORE, stderr: (/** @type {string} */ text) => console.warn(text) });
  for (const name of CORE)
    if (!python.loadedPackages[name]) throw new Error(`the package ${name} could not be loaded`);
  say("stage", "The screens are being loaded.");
  unpack(await own);
  stop();
  const expected = python.toPy(Object.fromEntries(LATER));
  const locals = python.toPy({ session, base, expected });
  kernel = python.runPython(START, { globals: locals });
  kernel.give_back(kept);
  say("stage", "The first answer is being worked out.");
  kernel.open(fragment, screen);
  scope.python = python;
  say("ready", "");
}

/** Load what the first answer did not need, one after the other. */
async function rest() {
  for (const [name, called, archive] of LATER) {
    if (!kernel.expects(name)) continue;
    say("loading", called);
    try {
      if (archive) {
        // it stays packed: few of its files are ever read
        python.FS.writeFile(`/${archive}`, new Uint8Array(await bytes(archive)));
        python.runPython(`import sys; sys.path.append("/${archive}")`);
      } else {
        await python.loadPackage(name, { messageCallback: () => {} });
        if (!python.loadedPackages[name]) throw new Error("its files were not found");
      }
    } catch (error) {
      say("missing", `${called} could not be loaded (${error}).`);
      return;
    }
    kernel.arrived(name);
  }
  say("complete", "");
}

/** @param {unknown} error */
function failed(error) {
  console.error(error);
  const lines = String(error instanceof Error ? error.message : error).trim().split("\n");
  say("failed", lines[lines.length - 1]); // of what Python says, the last line tells why
}

scope.onmessage = (/** @type {MessageEvent} */ { data }) => {
  const { kind, given } = data;
  if (kind === "start") start(given).catch(failed);
  else if (kind === "rest") rest().catch(failed);
  else
    try {
      if (kind === "act") {
        if (kernel.act(JSON.stringify(given))) say("done", given.number); // and what was typed is kept
      } else if (kind === "open") kernel.open(given.fragment, given.screen);
    } catch (error) {
      failed(error);
    }
};
