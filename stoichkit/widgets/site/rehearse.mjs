// @ts-check
/**
 * Write the memory of a Python that has given a first answer: see `memory.js`.
 *
 * Run by the builder of a site, under Node.js: folder of Pyodide, the archives that are unpacked, file to be written.
 */

import { readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";

const [, , source, target, ...archives] = process.argv;
const require = createRequire(pathToFileURL(`${source}/`));
const { loading, written } = await import(new URL("memory.js", import.meta.url).href);
const { loadPyodide } = await import(pathToFileURL(`${source}/pyodide.mjs`).href);

/** What is left unused would only make the file larger: all that is free is made empty. */
const REHEARSE = `
import gc, sys
from stoichkit.widgets.site.kernel import rehearse
rehearse()
del rehearse
sys.path_importer_cache.clear()
`;
const EMPTY = `
def empty(end):
    gc.collect()
    held = []
    for size in (*(1 << power for power in range(22, 8, -1)), *range(480, 48, -16)):
        while id(block := bytes(max(size - 40, 0))) < end:
            held.append(block)
empty(END)
del empty
gc.collect()
`;
const USED = `[m.__file__ for m in list(sys.modules.values()) if str(getattr(m, "__file__", "")).endswith(".so")]`;

/** Said to be there, so that Python uses it where a browser has it; nothing has to wait in a rehearsal. */
const waiting = {
  promising: (/** @type {any} */ one) => one,
  Suspending: function (/** @type {any} */ one) {
    return one;
  },
};
if (!("Suspending" in WebAssembly)) Object.assign(WebAssembly, waiting);

/** @type {any} */
const scope = globalThis;
Object.assign(scope, { require, __dirname: source });
if (scope._createPyodideModule === undefined) require(`${source}/pyodide.asm.js`);
const create = scope._createPyodideModule;

/** @type {[string, Uint8Array][]} */
let libraries = [];
for (;;) {
  /** @type {any} */
  let before = null;
  scope._createPyodideModule = loading(create, libraries, {}, (found) => {
    before = found;
  });
  const python = await loadPyodide({ indexURL: `${source}/`, env: { PYTHONOPTIMIZE: "2" }, _makeSnapshot: true, _sysExecutable: "/python" });
  const place = python.runPython("import sys; import sysconfig; sysconfig.get_path('purelib')");
  for (const archive of archives) python.unpackArchive(new Uint8Array(readFileSync(archive)), "zip", { extractDir: place });
  python.runPython(REHEARSE);
  python.runPython(EMPTY.replace("END", String(before.module.HEAPU8.length)));
  const used = python.runPython(USED).toJs();
  const known = libraries.map(([path]) => path);
  if (used.some((/** @type {string} */ path) => !known.includes(path))) {
    // once more, with these from the start
    libraries = used.map((/** @type {string} */ path) => [path, python.FS.readFile(path)]);
    continue;
  }
  const snapshot = python.makeMemorySnapshot();
  const length = new Uint32Array(snapshot.buffer)[2];
  const head = snapshot.subarray(48, 48 + length);
  const objects = JSON.parse(new TextDecoder().decode(head));
  const data = python.runPython(`
from pathlib import Path
[str(p) for p in Path("${place}/stoichkit").rglob("*") if p.is_file() and p.suffix != ".py"]`);
  const files = data.toJs().map((/** @type {string} */ path) => [path, python.FS.readFile(path)]);
  const parts = written(before, { objects }, libraries, files);
  writeFileSync(target, Buffer.concat(parts));
  process.exit(0);
}
