// @ts-check
/** The page: draws the view that Python sends, and sends what is done. Knows no Jupyter. */

import { Component, html, render } from "./vendor/preact-htm.js";
import { Blocks, SIGNS } from "./blocks.js";
import { Link } from "./link.js";

class Page extends Component {
  componentDidMount() {
    this.follow = () => this.setState({});
    this.props.link.followers.push(this.follow);
  }

  componentDidUpdate() {
    const { link } = this.props;
    if (!link.focus) return;
    const wanted = this.base.querySelector(`[data-control="${CSS.escape(link.focus)}"]`);
    if (wanted) wanted.focus();
    link.focus = "";
  }

  componentWillUnmount() {
    const { followers } = this.props.link;
    followers.splice(followers.indexOf(this.follow), 1);
  }

  render({ link }) {
    const { layout, regions, said } = link;
    const part = (place) =>
      layout.places
        .filter(([where]) => where === place)
        .map(
          ([, name]) => html`<div key=${name} class=${`region r-${name}`}>
            <${Blocks} blocks=${regions[name]} link=${link} />
          </div>`,
        );
    const has = (place) => layout.places.some(([where]) => where === place);
    const both = has("left") && has("right");
    const tab = (key) => () => link.act("show", { id: key });
    return html`<div class=${link.settled ? "page settled" : "page"}>
      ${has("head") ? html`<div class="top">${part("head")}</div>` : null}
      ${layout.tabs.length > 1
        ? html`<nav aria-label="Screens">
            ${layout.tabs.map(
              ([key, title]) => html`<button
                key=${key}
                type="button"
                class=${key === layout.screen ? "tab shown" : "tab"}
                aria-current=${key === layout.screen ? "page" : undefined}
                onClick=${tab(key)}
              >
                ${title}
              </button>`,
            )}
          </nav>`
        : null}
      <div class="said" role="status" aria-live="polite">
        ${link.silent
          ? html`<p class="line refusal">
              <span class="sign" aria-hidden="true">!</span
              ><span>${link.silence}</span>
            </p>`
          : null}
        ${said.text
          ? html`<p class=${`line ${said.role}`}>
              <span class="sign" aria-hidden="true">${SIGNS[said.role] || "✓"}</span
              ><span>${said.text}</span>
            </p>`
          : null}
      </div>
      <div class=${both ? "both" : "one"}>
        ${has("left") ? html`<div class="left">${part("left")}</div>` : null}
        ${has("right") ? html`<div class="right">${part("right")}</div>` : null}
        ${has("wide") ? html`<div class="wide">${part("wide")}</div>` : null}
      </div>
    </div>`;
  }
}

/** Offer a file to be saved; a PNG is drawn here from the SVG that Python wrote. @param {any} file */
export async function save(file) {
  const bytes = Uint8Array.from(atob(file.base64), (c) => c.charCodeAt(0));
  let blob = new Blob([bytes], { type: file.type });
  if (file.name.endsWith(".png") && file.type === "image/svg+xml") blob = await asPng(blob);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = file.name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

/** @param {Blob} svg @returns {Promise<Blob>} */
function asPng(svg) {
  return new Promise((resolve, reject) => {
    const image = new Image();
    image.onload = () => {
      const canvas = document.createElement("canvas");
      canvas.width = 2 * image.width;
      canvas.height = 2 * image.height;
      const brush = canvas.getContext("2d");
      if (!brush) return reject(new Error("no canvas"));
      brush.drawImage(image, 0, 0, canvas.width, canvas.height);
      canvas.toBlob((found) => (found ? resolve(found) : reject(new Error("no picture"))), "image/png");
      URL.revokeObjectURL(image.src);
      return undefined;
    };
    image.onerror = reject;
    image.src = URL.createObjectURL(svg);
  });
}

/**
 * Draw a page into an element.
 * @param {HTMLElement} element @param {(action: any) => void} send
 * @returns {{link: Link, close: () => void}}
 */
export function open(element, send) {
  element.classList.add("stoichkit");
  const link = new Link(send);
  link.onFile = (file) => void save(file);
  render(html`<${Page} link=${link} />`, element);
  link.act("ready");
  return {
    link,
    close: () => {
      if (link.under) clearTimeout(link.under.timer);
      render(null, element);
    },
  };
}
