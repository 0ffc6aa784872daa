// @ts-check
/** The page in a notebook: actions and answers travel as messages of the widget. */

import { open } from "./page.js";

/** Hide what stands in for the page in a saved notebook, while the page is alive. @param {string} key */
function hideStill(key) {
  for (const still of document.querySelectorAll(`[data-stoichkit-still="${CSS.escape(key)}"]`)) {
    const output = still.closest(".jp-OutputArea-child") || still;
    if (output instanceof HTMLElement) output.style.display = "none";
  }
}

export default {
  /** @param {{model: any, el: HTMLElement}} given */
  render({ model, el }) {
    // a key pressed on a list or a button here is none of the notebook's: “dd” deletes a cell there
    el.setAttribute("data-lm-suppress-shortcuts", "true");
    el.addEventListener("keydown", (event) => event.stopPropagation());
    const page = open(el, (action) => model.send(action));
    const receive = (/** @type {any} */ answer) => {
      page.link.receive(answer);
      hideStill(model.get("key"));
    };
    model.on("msg:custom", receive);
    return () => {
      model.off("msg:custom", receive);
      page.close();
    };
  },
};
