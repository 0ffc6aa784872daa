// @ts-check
/** Names of elements that no other element of the document has. */

import { useRef } from "./vendor/preact-htm.js";

let count = 0;
/** @param {string} stem */
export function useName(stem) {
  const held = useRef("");
  if (!held.current) held.current = `stoichkit-${stem}-${++count}`;
  return held.current;
}
