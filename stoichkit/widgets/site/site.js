// @ts-check
/** The page without a server: the screens of a notebook, with Python in a worker beside them. */

import { hand } from "../page/blocks.js";
import { open } from "../page/page.js";

/** @typedef {import("../page/link.js").Link} Link */
/** @typedef {import("../page/link.js").Action} Action */

/** What may be done a second time without harm. */
const AGAIN = ["set", "tick", "step", "cells"];
/** A piece of long work that has not stopped by then is stopped with all of Python. */
const STOP_MS = 1000;
/** How long this page waits for what keeps its files. */
const KEEPER_MS = 4000;
/** How long a page that is reloaded may hold its number. */
const RELOAD_MS = 3000;
/** Part of the bar for what comes after the files: starting, and the first answer. */
const START_SHARE = 0.25;
const SILENCE = "Python is still working. What you type meanwhile is kept, and done afterwards.";

const $ = (/** @type {string} */ id) => /** @type {HTMLElement} */ (document.getElementById(id));
const main = /** @type {HTMLElement} */ (document.querySelector("main"));
const base = location.href.split(/[?#]/)[0];
const wanted = Number(main.dataset.bytes) || 1;

/** @type {Worker | null} */
let worker = null;
/** @type {Link | null} */
let link = null;
let slot = "1";
/** @type {{screen: string, actions: Action[]}} */
let left = { screen: "", actions: [] };
let stopping = false;
/** Whether Python has been started and nothing of it is drawn yet. */
let fresh = false;

// What is said around the screens

/** @param {number} share @param {string} [words] */
function progress(share, words) {
  const percent = Math.round(100 * Math.min(share, 1));
  const bar = $("bar");
  bar.setAttribute("aria-valuenow", String(percent));
  if (words) {
    $("stage").textContent = words;
    bar.setAttribute("aria-valuetext", `${percent} %: ${words}`);
  }
  $("done").style.width = `${percent}%`;
}

/**
 * Show a sentence above the screens until it is answered or taken back ("").
 * @param {string} name @param {string} text
 * @param {{alarm?: boolean, button?: string, press?: () => void}} [how]
 */
function notice(name, text, { alarm = false, button = "", press = () => {} } = {}) {
  $(`notice-${name}`)?.remove();
  if (!text) return;
  const box = document.createElement("div");
  box.id = `notice-${name}`;
  box.className = alarm ? "notice alarm" : "notice";
  const words = document.createElement("p");
  words.setAttribute("role", alarm ? "alert" : "status");
  box.append(words);
  if (button) {
    const control = document.createElement("button");
    control.type = "button";
    control.textContent = button;
    control.addEventListener("click", () => {
      box.remove();
      press();
    });
    box.append(control);
  }
  $("notices").append(box);
  words.textContent = text;
}

/** Nothing can be shown: say why, and what to do. @param {string} why @param {string} fix */
function refuse(why, fix) {
  $("loading").hidden = true;
  notice("failed", `${why} ${fix}`, { alarm: true, button: "Load this page again", press: () => location.reload() });
}

// What the browser keeps

const place = (/** @type {string} */ name) => `stoichkit ${base} ${name}`;

/** @template T @param {() => T} function_ @param {T} otherwise @returns {T} */
function allowed(function_, otherwise) {
  try {
    return function_();
  } catch {
    return otherwise; // the browser may forbid it, or be full
  }
}

function kept() {
  /** @type {Record<string, any>} */
  const found = {};
  allowed(() => {
    const start = place("typed-");
    for (const name of Object.keys(localStorage))
      if (name.startsWith(start))
        found[name.slice(place("").length)] = JSON.parse(localStorage.getItem(name) || "null");
  }, undefined);
  return JSON.stringify(found);
}

/** @param {Record<string, [string, number] | null>} changed */
function keep(changed) {
  let full = false;
  for (const [name, value] of Object.entries(changed))
    if (value === null) allowed(() => localStorage.removeItem(place(name)), undefined);
    else if (!allowed(() => (localStorage.setItem(place(name), JSON.stringify(value)), true), false)) full = true;
  notice("full", full ? "This browser keeps nothing more of what you type. Download the lab to keep it." : "", {
    alarm: true,
    button: "Close",
  });
}

/** What was sent and is not known to be kept yet. @type {Action[]} */
let unkept = [];

/** What Python has not kept yet, and may be asked for again. @returns {Action[]} */
function undone() {
  const waiting = link ? link.open.filter((one) => !unkept.includes(one)) : [];
  return [...unkept, ...waiting].filter((one) => AGAIN.includes(one.name));
}

/** Keep what Python has not kept yet, for when this page is opened again. */
function leave() {
  if (!link) return;
  const actions = undone();
  const value = { address: address(), screen: link.layout.screen, actions };
  allowed(() => localStorage.setItem(place(`left-${slot}`), JSON.stringify(value)), undefined);
}

function leftBefore() {
  const found = allowed(() => JSON.parse(localStorage.getItem(place(`left-${slot}`)) || "null"), null);
  if (found && found.address === address() && Array.isArray(found.actions))
    left = { screen: String(found.screen || ""), actions: found.actions };
}

/** What the address says of a lab: after #, or a short name after ?. */
function address() {
  if (location.hash.length > 1) return location.hash.slice(1);
  const asked = new URLSearchParams(location.search);
  for (const name of ["lab", "practice"]) if (asked.has(name)) return `${name}=${encodeURIComponent(asked.get(name) || "")}`;
  return "";
}

/**
 * Take a number among the pages that are open here, and hold it until this page is closed.
 * @param {string} number @param {LockOptions} how
 * @returns {Promise<boolean>} whether it was to be had
 */
function taken(number, how) {
  return new Promise((told) => {
    const held = (/** @type {Lock | null} */ lock) => {
      told(Boolean(lock));
      return lock ? new Promise(() => {}) : undefined;
    };
    navigator.locks.request(place(`page-${number}`), how, held).catch(() => told(false));
  });
}

/** Have a number, so that each page goes on with its own texts: after a reload the one it had. */
async function numbered() {
  if (!navigator.locks) return;
  const before = allowed(() => sessionStorage.getItem(place("page")), null);
  let number = before || "1";
  let mine = Boolean(before) && (await taken(number, { signal: AbortSignal.timeout(RELOAD_MS) }));
  for (let i = 1; !mine && i < 100; i++) {
    number = String(i);
    mine = await taken(number, { ifAvailable: true });
  }
  slot = number;
  allowed(() => sessionStorage.setItem(place("page"), slot), undefined);
}

// The files, kept by a service worker

/** Wait until what keeps the files stands between this page and the network, if it can. */
async function keeper() {
  const { serviceWorker } = navigator;
  if (!serviceWorker) return;
  const registration = await serviceWorker.register("service-worker.js", { updateViaCache: "none" });
  if (!serviceWorker.controller && !registration.active)
    await new Promise((ready) => {
      serviceWorker.addEventListener("controllerchange", () => ready(null), { once: true });
      setTimeout(ready, KEEPER_MS, null);
    });
  const offer = () => {
    if (!registration.waiting || !serviceWorker.controller) return;
    notice("newer", "A newer version of this page is here.", {
      button: "Use it now",
      press: () => {
        serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
        registration.waiting?.postMessage("replace");
      },
    });
  };
  offer();
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", offer);
  });
  serviceWorker.addEventListener("message", ({ data }) => {
    if (data === "complete") $("background").textContent = "Kept in this browser: this page opens without a network too.";
  });
}

// Python

function start() {
  worker = new Worker("worker.js", { type: "module" });
  worker.addEventListener("message", ({ data }) => heard(data.kind, data.text));
  worker.addEventListener("error", (event) => {
    refuse(`Python could not be started (${event.message || "its files were not found"}).`, "Look whether the network is there.");
  });
  const given = { session: slot, base, kept: kept(), fragment: address(), screen: left.screen };
  worker.postMessage({ kind: "start", given });
}

/** End Python and start it anew from what was kept. @param {string} words */
function restart(words) {
  if (!link) return;
  left = { screen: link.layout.screen, actions: [] };
  worker?.terminate();
  notice("silent", "");
  notice("restart", words);
  start();
}

/** @param {string} kind @param {any} text */
function heard(kind, text) {
  switch (kind) {
    case "bytes":
      return progress((1 - START_SHARE) * Math.min(text / wanted, 1));
    case "stage":
      return progress(Number($("bar").getAttribute("aria-valuenow")) / 100, text);
    case "ready":
      return begin();
    case "answer":
      link?.receive(JSON.parse(text));
      if (fresh) drawn();
      return undefined;
    case "kept":
      return keep(JSON.parse(text));
    case "done":
      unkept = unkept.filter((one) => one.number > text);
      return undefined;
    case "opened":
      return opened(JSON.parse(text));
    case "waits":
      return notice("waits", JSON.parse(text));
    case "loading":
      $("background").textContent = `${text} is being loaded in the background.`;
      return undefined;
    case "missing":
      $("background").textContent = "";
      return notice("missing", `${text} Screens that need it wait. Look whether the network is there.`, {
        alarm: true,
        button: "Try again",
        press: () => worker?.postMessage({ kind: "rest" }),
      });
    case "complete":
      $("background").textContent = "";
      navigator.serviceWorker?.controller?.postMessage("complete");
      return undefined;
    case "failed":
      return refuse(`Python stopped: ${text}.`, "What you typed is kept. Look whether the network is there.");
    case "broken":
      return refuse(`Python stopped: ${text}`, "What you typed is kept.");
    default:
      return undefined;
  }
}

/** @param {{title: string, problem: string}} given */
function opened({ title, problem }) {
  $("root").inert = false;
  document.title = `${title} – stoichkit`;
  notice("address", problem && `${problem} The lab shown is another one.`, { alarm: true, button: "Close" });
}

/** @param {Action} action */
function send(action) {
  unkept.push(action);
  worker?.postMessage({ kind: "act", given: action });
}

/** The first view is ready to be sent: draw it, then do what was left undone. */
function begin() {
  fresh = true;
  if (link) {
    left.actions = undone();
    unkept = [];
    link.renew();
    notice("restart", "");
  } else {
    link = open($("root"), send).link;
    link.silence = SILENCE;
    link.followers.push(watch);
    allowed(() => localStorage.removeItem(place(`left-${slot}`)), undefined);
  }
  for (const one of left.actions) link.act(one.name, one.arguments);
  if (stopping) link.act("show", { id: "readings" }); // there nothing long begins by itself
  stopping = false;
}

/** The first answer of a Python is drawn: load what it did not need. */
function drawn() {
  fresh = false;
  $("loading").hidden = true;
  setTimeout(() => worker?.postMessage({ kind: "rest" }), 50);
}

/** @type {any} */
let patience = null;

/** Look, after each change, whether long work is to stop, or nothing has come for long. */
function watch() {
  const stops = () =>
    Boolean(link?.open.some((one) => one.name === "press" && String(one.arguments.id).endsWith(":stop")));
  if (stops() && !patience)
    patience = setTimeout(() => {
      patience = null;
      if (stops()) stop();
    }, STOP_MS);
  notice("silent", link?.silent ? "This takes long." : "", { button: "Stop it", press: stop });
}

function stop() {
  stopping = true;
  restart("Python was stopped, and is started again with all that you typed.");
}

// Files and addresses

/** @param {File} file */
function take(file) {
  const ending = file.name.slice(file.name.lastIndexOf(".")).toLowerCase();
  const inputs = [...document.querySelectorAll("#root input[type=file]")];
  const input = inputs.find((one) => (one.getAttribute("accept") || "").split(",").includes(ending));
  const id = input?.getAttribute("data-control") || (ending === ".toml" ? "upload" : "");
  if (id && link) return hand(link, id, file);
  return notice("file", `No part of this screen takes a file such as ${file.name}. A lab is a .toml file; class files belong to the screen Class.`, { alarm: true, button: "Close" });
}

function listen() {
  addEventListener("dragover", (event) => {
    event.preventDefault();
    document.body.classList.add("over");
  });
  addEventListener("dragleave", () => document.body.classList.remove("over"));
  addEventListener("drop", (event) => {
    event.preventDefault();
    document.body.classList.remove("over");
    const file = event.dataTransfer?.files[0];
    if (file) take(file);
  });
  addEventListener("hashchange", () => {
    if (!link || !address()) return;
    $("root").inert = true; // what is typed from now on would be meant for the lab before
    worker?.postMessage({ kind: "open", given: { fragment: address(), screen: "" } });
    link.act("ready");
  });
  addEventListener("pagehide", leave);
}

async function go() {
  if (!("WebAssembly" in window && "Worker" in window && "DecompressionStream" in window))
    return refuse("This browser cannot run Python: it is too old for it.", "Use a current one, or a notebook.");
  progress(0, "Python is being loaded.");
  listen();
  await numbered();
  leftBefore();
  await keeper().catch(() => {}); // without it the page works, but not offline
  return start();
}

void go();
