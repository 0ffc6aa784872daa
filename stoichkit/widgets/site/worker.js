// @ts-check
/** Python in a web worker: loads it, then hands texts from the page to it and back. See site.js. */

import { taken } from "./memory.js";

const CORE = ["numpy"];
/** Takes seconds, and some readings need it: not only when they are typed. */
const SLOW = "import scipy.special";
/** Any module that is not loaded yet, see kernel.py. */
const ANY = "*";
/** The rest of Python and of the screens, where a memory was taken over. */
const REST = [
  [ANY, "The rest of Python", ""],
  ["numpy", "NumPy", ""],
];
/** What is loaded after the first answer: name of the package, what it is called, its archive if it is pure Python. */
const LATER = [
  ["scipy", "SciPy", ""],
  ["sympy", "SymPy", "sympy.zip"],
  ["openpyxl", "What reads workbooks", "openpyxl.zip"],
];
const START = `
import asyncio, random
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

random.seed()  # what is in memory when the site is built is the same for all
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

/** @type {string[][]} */
let later = LATER;

const say = (/** @type {string} */ kind, /** @type {any} */ text) => scope.postMessage({ kind, text });
scope.said = say;

/** What the builder has written smaller, by its usual name. */
const DEFLATED = "pyodide.asm.wasm";
const LIBRARY = "pyodide/python_stdlib.zip";
const inflated = (/** @type {Response} */ answer, /** @type {any} */ how) =>
  new Response(answer.body?.pipeThrough(new DecompressionStream("deflate")), how);

/**
 * Tell the page how many bytes have come; whoever asked for them gets what was asked for.
 * @param {() => boolean} late whether Python's library comes later
 * @returns {() => void} ends that
 */
function count(late) {
  const plain = scope.fetch;
  let done = 0;
  scope.fetch = async (/** @type {any} */ asked, /** @type {any} */ how) => {
    const path = String(asked.url || asked);
    if (path.endsWith(LIBRARY) && late()) return new Response(new Uint8Array());
    const deflated = path.endsWith(DEFLATED);
    const answer = await (deflated ? plain(`${path}.deflated`) : plain(asked, how));
    if (!answer.body || !answer.ok) return answer;
    const counted = new TransformStream({
      transform(chunk, control) {
        done += chunk.byteLength;
        say("bytes", done);
        control.enqueue(chunk);
      },
    });
    const counting = new Response(answer.body.pipeThrough(counted), { headers: answer.headers });
    return deflated ? inflated(counting, { headers: { "Content-Type": "application/wasm" } }) : counting;
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

/** Load Pyodide, with a memory if there is one and it fits. @returns {Promise<boolean>} whether it did */
async function loaded() {
  let late = true;
  const stop = count(() => late);
  const memory = scope.fetch(new URL("memory.deflated", scope.location.href).href);
  const indexURL = new URL("pyodide/", scope.location.href).href;
  const { loadPyodide } = await import(`${indexURL}pyodide.mjs`);
  const common = { indexURL, env: { PYTHONOPTIMIZE: "2" }, stderr: (/** @type {string} */ text) => console.warn(text) };
  try {
    const answer = await memory;
    if (answer.ok) {
      if (!scope._createPyodideModule) await import(`${indexURL}pyodide.asm.js`);
      const create = scope._createPyodideModule;
      python = await taken(await inflated(answer, {}).arrayBuffer(), (how, wrap) => {
        scope._createPyodideModule = wrap(create);
        return loadPyodide({ ...common, ...how }).finally(() => {
          scope._createPyodideModule = create;
        });
      });
      return true;
    }
  } catch (error) {
    console.warn(`Python starts without its memory: ${error}`);
  } finally {
    late = false;
    if (python) stop();
  }
  const own = bytes("stoichkit.zip");
  python = await loadPyodide({ ...common, packages: CORE });
  for (const name of CORE)
    if (!python.loadedPackages[name]) throw new Error(`the package ${name} could not be loaded`);
  say("stage", "The screens are being loaded.");
  unpack(await own);
  stop();
  return false;
}

/** @param {any} given */
async function start({ session, base, kept, fragment, screen }) {
  say("stage", "Python is being loaded.");
  const fits = await loaded();
  later = fits ? [...REST, ...LATER] : LATER;
  const expected = python.toPy(Object.fromEntries(later));
  const locals = python.toPy({ session, base, expected });
  kernel = python.runPython(START, { globals: locals });
  kernel.give_back(kept);
  say("stage", "The first answer is being worked out.");
  kernel.open(fragment, screen);
  for (const one of later) {
    if (!kernel.waits) break;
    await come(one); // another lab needs more than those that were rehearsed
    kernel.arrived(one[0]);
  }
  scope.python = python;
  say("ready", "");
}

/** Put the rest of Python's library and of the screens where they are looked for. */
async function library() {
  const [files, own] = await Promise.all([bytes(LIBRARY), bytes("stoichkit.zip")]);
  const place = python.runPython("import sys; next(one for one in sys.path if one.endswith('.zip'))");
  python.FS.writeFile(place, new Uint8Array(files));
  kernel.arriving.here(ANY);
  unpack(own);
}

/** Load one of what comes later. @param {string[]} one */
async function come([name, called, archive]) {
  say("loading", called);
  if (name === ANY) await library();
  else if (archive) {
    // it stays packed: few of its files are ever read
    python.FS.writeFile(`/${archive}`, new Uint8Array(await bytes(archive)));
    python.runPython(`import sys; sys.path.append("/${archive}")`);
  } else {
    await python.loadPackage(name, { messageCallback: () => {} });
    if (!python.loadedPackages[name]) throw new Error("its files were not found");
  }
}

let resting = false;

/** Load what the first answer did not need, one after the other. */
async function rest() {
  if (resting) return;
  resting = true;
  await all().finally(() => {
    resting = false;
  });
}

async function all() {
  for (const one of later) {
    const [name, called] = one;
    if (!kernel.expects(name)) continue;
    try {
      await come(one);
    } catch (error) {
      say("missing", `${called} could not be loaded (${error}).`);
      return;
    }
    kernel.arrived(name);
  }
  await new Promise((done) => setTimeout(done, 0)); // what was typed meanwhile has its turn first
  python.runPython(SLOW);
  say("complete", "");
}

/** @param {any} error */
function failed(error) {
  console.error(error);
  const lines = String(error instanceof Error ? error.message : error).trim().split("\n");
  const why = lines[lines.length - 1]; // of what Python says, the last line tells why
  say(error.type ? "broken" : "failed", why); // that of an error of Python
}

scope.onmessage = (/** @type {MessageEvent} */ { data }) => {
  const { kind, given } = data;
  if (kind === "start") start(given).catch(failed);
  else if (kind === "rest") rest().catch(failed);
  else
    try {
      if (kind === "act") {
        if (kernel.act(JSON.stringify(given))) say("done", given.number); // and what was typed is kept
        else rest().catch(failed); // the first answer may wait for it too
      } else if (kind === "open") kernel.open(given.fragment, given.screen);
    } catch (error) {
      failed(error);
    }
};
