// @ts-check
/**
 * The memory of a Python that has loaded what a first answer needs: written when a site is built, by `rehearse.mjs`,
 * and taken over by `worker.js`, so that a visit need not load and compile it again.
 *
 * Libraries are loaded before Python begins, in one order, so that they lie where they lay. What the memory holds then
 * is the same each time; kept is only how it differs later, by exclusive or, in pages. Parts of Pyodide are used that
 * it does not promise to keep: whatever is not as it was is an error, and Python is then started as usual.
 */

const PAGE = 4096;
const WAIT = "libraries";
/** Places in the table for what one browser has and another has not. */
const SPARE = 64;

/** Words that differ wherever two memories do, but for a rare chance. @param {Uint8Array} bytes */
function digest(bytes) {
  let sum = 2166136261;
  const words = new Uint32Array(bytes.buffer, bytes.byteOffset, bytes.byteLength >> 2);
  for (let i = 0; i < words.length; i++) sum = Math.imul(sum ^ words[i], 16777619);
  return sum;
}

/**
 * A memory before Python begins.
 * @typedef {object} Before
 * @property {any} module
 * @property {Uint8Array} bytes with the libraries, and nought for what is the browser's own
 * @property {[number, number][]} own words that depend on the browser, and their values
 * @property {number} room places in the table that are not those of libraries
 */

/**
 * Have what makes Pyodide load libraries first.
 * @param {(settings: any) => Promise<any>} create makes Pyodide
 * @param {[string, Uint8Array][]} libraries path and content of each
 * @param {{room?: number, start?: number}} where their places in the table begin, and how many bytes are looked at
 * @param {(before: Before) => void} then is told when they are there
 */
export function loading(create, libraries, { room = 0, start = 0 }, then) {
  const first = async (/** @type {any} */ module) => {
    const plain = module.HEAPU32.slice(0, (start || module.HEAPU8.length) >> 2);
    await null; // others have their turn: what they write depends on what the browser can do
    /** @type {[number, number][]} */
    const own = [];
    const words = module.HEAPU32;
    for (let i = 0; i < plain.length; i++) if (words[i] !== plain[i]) own.push([i, words[i]]);
    const { length } = module.wasmTable;
    room ||= length + SPARE;
    if (length > room) throw new Error("the table is too long");
    module.wasmTable.grow(room - length);
    for (const [path, content] of libraries) {
      const fs = { findObject: () => true, readFile: () => content };
      const how = { loadAsync: true, nodelete: true, allowUndefined: true, global: false, fs };
      await module.loadDynamicLibrary(path, how, {});
    }
    module.reportUndefinedSymbols();
    const bytes = module.HEAPU8.slice(0, 4 * plain.length);
    for (const [i] of own) new Uint32Array(bytes.buffer)[i] = plain[i];
    then({ module, bytes, own, room });
  };
  return (/** @type {any} */ settings) =>
    new Promise((made, failed) => {
      settings.preRun.push((/** @type {any} */ module) => {
        module.addRunDependency(WAIT);
        first(module).then(() => module.removeRunDependency(WAIT), failed);
      });
      create(settings).then(made, failed);
    });
}

/** Give back at once what is not needed any more, where the browser can do that. @param {any} buffer */
const given = (buffer) => buffer.transfer?.(0);

/**
 * Write a memory.
 * @param {Before} before when the libraries were there @param {object} about what else is to be known
 * @param {[string, Uint8Array][]} libraries @param {[string, Uint8Array][]} files
 */
export function written({ module, bytes, own, room }, about, libraries, files) {
  const now = module.HEAPU8.slice();
  for (const [i] of own) new Uint32Array(now.buffer)[i] = new Uint32Array(bytes.buffer)[i];
  /** @type {[number, number][]} */
  const runs = [];
  const pages = [];
  for (let at = 0; at < now.length; at += PAGE) {
    const page = now.slice(at, at + PAGE);
    for (let i = 0; i < PAGE && at + i < bytes.length; i++) page[i] ^= bytes[at + i];
    if (page.every((/** @type {number} */ one) => one === 0)) continue;
    const last = runs[runs.length - 1];
    if (last && last[0] + last[1] === at) last[1] += PAGE;
    else runs.push([at, PAGE]);
    pages.push(page);
  }
  const { loadedLibsByHandle } = module.LDSO;
  const handles = Object.entries(loadedLibsByHandle).map(([handle, { name }]) => [handle, name]);
  const sizes = (/** @type {[string, Uint8Array][]} */ all) => all.map(([path, content]) => [path, content.length]);
  const start = { size: now.length, start: bytes.length, digest: digest(bytes), table: module.wasmTable.length };
  const head = { ...about, ...start, room, handles, runs, libraries: sizes(libraries), files: sizes(files) };
  const text = JSON.stringify(head);
  const first = new TextEncoder().encode(text + " ".repeat(-new TextEncoder().encode(text).length & 3));
  const contents = [...libraries, ...files].map(([, content]) => content);
  return [new Uint8Array(new Uint32Array([first.length]).buffer), first, ...pages, ...contents];
}

/**
 * Start Python with a memory that was written.
 * @param {ArrayBuffer} memory
 * @param {(how: object, wrap: (create: any) => any) => Promise<any>} load loads Pyodide, with what makes it wrapped
 */
export async function taken(memory, load) {
  const length = new Uint32Array(memory, 0, 1)[0];
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(memory, 4, length)));
  const { runs, size } = head;
  let at = 4 + length;
  const pages = at;
  for (const [, count] of runs) at += count;
  const cut = (/** @type {[string, number][]} */ all) =>
    all.map(([path, count]) => /** @type {[string, Uint8Array]} */ ([path, new Uint8Array(memory, (at += count) - count, count)]));
  const libraries = cut(head.libraries);
  const files = cut(head.files);
  const same = (/** @type {boolean} */ is, /** @type {string} */ what) => {
    if (!is) throw new Error(`the ${what} is not that of the memory`);
  };
  const then = (/** @type {Before} */ { module, bytes, own }) => {
    same(module.HEAPU8.length === size && digest(bytes) === head.digest, "start");
    same(module.wasmTable.length === head.table, "table");
    const { API } = module;
    const usual = API.restoreSnapshot;
    API.restoreSnapshot = () => {
      API.restoreSnapshot = usual; // nothing holds what is packed any longer
      const words = module.HEAPU32;
      const begun = new Uint32Array(bytes.buffer);
      // a page that is neither read into nor written is not there: only what differs is written
      for (let i = 0; i < begun.length; i++) if (words[i] !== begun[i]) words[i] = begun[i];
      for (let i = begun.length; i < words.length; i++) if (words[i]) words[i] = 0;
      let from = pages >> 2;
      const kept = new Uint32Array(memory, 0, memory.byteLength >> 2);
      for (const [to, count] of runs) for (let i = to >> 2; i < (to + count) >> 2; i++) words[i] ^= kept[from++];
      for (const [i, value] of own) words[i] = value;
      given(bytes.buffer);
      const { loadedLibsByHandle, loadedLibsByName } = module.LDSO;
      for (const [handle, name] of head.handles) loadedLibsByHandle[handle] = loadedLibsByName[name];
      return head.objects;
    };
  };
  const python = await load({ _loadSnapshot: new Uint8Array(size) }, (create) => loading(create, libraries, head, then));
  for (const [path, content] of files) {
    python.FS.mkdirTree(path.slice(0, path.lastIndexOf("/")));
    python.FS.writeFile(path, content);
  }
  given(memory);
  return python;
}
