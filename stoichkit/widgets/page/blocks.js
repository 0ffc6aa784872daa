// @ts-check
/** Every kind of block, drawn. Text is text: nothing that was typed can act on the page. */

import { useName } from "./names.js";
import { Component, html, useState } from "./vendor/preact-htm.js";
import { Picture } from "./picture.js";
import { Sheet } from "./sheet.js";

/** @typedef {import("./link.js").Link} Link */
/** @typedef {Record<string, any>} Block */

/** @param {{blocks: Block[], link: Link}} given */
export function Blocks({ blocks, link }) {
  // a block without a name is known by its place among those of its kind: where a sentence comes or
  // goes above it, a field that is being typed into must stay the same
  /** @type {Record<string, number>} */
  const counts = {};
  return (blocks || []).map((block) => {
    const kind = Kinds[block.kind];
    if (!kind) return null;
    counts[block.kind] = (counts[block.kind] || 0) + 1;
    const key = block.id || `${block.kind}${counts[block.kind]}`;
    return html`<${kind} key=${key} block=${block} link=${link} />`;
  });
}

function Heading({ block }) {
  return block.level === 2 ? html`<h2>${block.text}</h2>` : html`<h3>${block.text}</h3>`;
}

export const SIGNS = { warning: "!", refusal: "!", diagnosis: "✓", trust: "⇔", good: "✓" };

function Words({ block }) {
  const sign = SIGNS[block.role];
  const spoken = block.spoken || block.role === "status" ? "status" : undefined;
  if (sign)
    return html`<p class=${`line ${block.role}`} role=${spoken}>
      <span class="sign" aria-hidden="true">${sign}</span><span>${block.text}</span>
    </p>`;
  const look = block.role === "status" ? "note" : block.role;
  return html`<p class=${look} role=${spoken}>${block.text}</p>`;
}

function Field({ block, link }) {
  const name = useName("field");
  const key = `set ${block.id}`;
  const text = link.text(key, block.text);
  const type = (event) => {
    const to = event.target.value;
    link.act("set", { id: block.id, to }, { key, text: to });
  };
  const leave = () => link.act("left", { id: block.id });
  const press = (event) => {
    if (event.key !== "Enter" || !block.enter || block.lines) return;
    event.preventDefault();
    link.act("press", { id: block.enter });
  };
  const note = block.refusal || block.note;
  const shared = {
    id: name,
    "data-control": block.id,
    value: text,
    onInput: type,
    onBlur: leave,
    onKeyDown: press,
    spellcheck: false,
    autocomplete: "off",
    "aria-invalid": block.refusal || block.refused ? "true" : undefined,
    "aria-describedby": note ? `${name}-note` : undefined,
    "aria-label": block.bare ? block.label : undefined,
    style: block.width ? `width:${block.width + 3}ch` : "",
  };
  const list = block.options && block.options.length ? `${name}-list` : undefined;
  return html`<div class=${block.bare ? "field bare" : "field"}>
    ${block.bare ? null : html`<label for=${name}>${block.label}</label>`}
    ${block.lines
      ? html`<textarea rows=${block.lines} ...${shared}></textarea>`
      : html`<input type="text" list=${list} ...${shared} />`}
    ${list
      ? html`<datalist id=${list}>
          ${block.options.map(([value, label]) => html`<option value=${value}>${label}</option>`)}
        </datalist>`
      : null}
    ${note
      ? html`<span id=${`${name}-note`} class=${block.refusal ? "refused" : "hint"}>${note}</span>`
      : null}
  </div>`;
}

function Choice({ block, link }) {
  const name = useName("choice");
  const key = `set ${block.id}`;
  const value = link.text(key, block.value);
  const choose = (event) => {
    const to = event.target.value;
    link.act("set", { id: block.id, to }, { key, text: to });
  };
  return html`<div class=${block.bare ? "field bare" : "field"}>
    ${block.bare ? null : html`<label for=${name}>${block.label}</label>`}
    <select id=${name} data-control=${block.id} onChange=${choose} aria-label=${block.bare ? block.label : undefined}>
      ${block.options.map(
        ([one, label]) => html`<option value=${one} selected=${one === value}>${label}</option>`,
      )}
    </select>
  </div>`;
}

function Tick({ block, link }) {
  const key = `tick ${block.id}`;
  const on = link.text(key, block.on);
  const tick = (event) => {
    const to = event.target.checked;
    link.act("tick", { id: block.id, to }, { key, text: to });
  };
  return html`<label class="tick"
    ><input type="checkbox" data-control=${block.id} checked=${on} onChange=${tick} /> ${block.label}</label
  >`;
}

function Button({ block, link }) {
  return html`<button
    type="button"
    class=${`button ${block.look}`}
    data-control=${block.id}
    disabled=${!block.enabled}
    aria-label=${block.spoken || undefined}
    title=${block.spoken || undefined}
    onClick=${() => link.act("press", { id: block.id })}
  >
    ${block.label}
  </button>`;
}

function Row({ block, link }) {
  return html`<div class=${block.even ? "row even" : "row"}><${Blocks} blocks=${block.blocks} link=${link} /></div>`;
}

function Chip({ block, link }) {
  const [open, setOpen] = useState(false);
  const name = useName("chip");
  return html`<div class=${open ? "chip open" : "chip"}>
    <button
      type="button"
      class=${block.refused ? "refused" : ""}
      aria-expanded=${open ? "true" : "false"}
      aria-controls=${name}
      onClick=${() => setOpen(!open)}
    >
      <span class="chip-label">${block.label}</span> ${block.text}
    </button>
    <div id=${name} class="chip-body" hidden=${!open}>
      ${open ? html`<${Blocks} blocks=${block.blocks} link=${link} />` : null}
    </div>
  </div>`;
}

function Sentence({ block, link }) {
  return html`<div class="sentence">
    ${block.parts.map((part, i) =>
      part.kind === "words"
        ? html`<span key=${i}>${part.text}</span>`
        : html`<${Blocks} key=${part.id || i} blocks=${[part]} link=${link} />`,
    )}
  </div>`;
}

function Details({ block, link }) {
  const [open, setOpen] = useState(Boolean(block.opened));
  const name = useName("more");
  return html`<div class="details">
    <button
      type="button"
      class="summary"
      aria-expanded=${open ? "true" : "false"}
      aria-controls=${name}
      onClick=${() => setOpen(!open)}
    >
      <span aria-hidden="true">${open ? "−" : "+"}</span> ${block.summary}
    </button>
    <div id=${name} hidden=${!open}>
      ${open ? html`<${Blocks} blocks=${block.blocks} link=${link} />` : null}
    </div>
  </div>`;
}

function List({ block }) {
  return html`<ul>
    ${block.items.map((item, i) => html`<li key=${i}>${item}</li>`)}
  </ul>`;
}

function Table({ block, link }) {
  const choose = (i) => link.act("pick", { id: block.id, to: i });
  return html`<div class=${block.prose ? "scroll prose" : "scroll"} tabindex="0" role="group" aria-label=${block.caption || "table"}>
    <table>
      ${block.caption ? html`<caption>${block.caption}</caption>` : null}
      <thead>
        <tr>
          ${block.header.map((cell, i) => html`<th key=${i} scope="col">${cell}</th>`)}
        </tr>
      </thead>
      <tbody>
        ${block.rows.map(
          (cells, i) => html`<tr
            key=${i}
            class=${`${(block.looks || [])[i] || ""} ${block.selected === i ? "selected" : ""}`}
          >
            ${cells.map((cell, j) =>
              j
                ? html`<td key=${j}>${cell}</td>`
                : html`<th key=${j} scope="row">
                    ${block.id
                      ? html`<button
                          type="button"
                          class="button quiet"
                          aria-pressed=${block.selected === i ? "true" : "false"}
                          onClick=${() => choose(i)}
                        >
                          ${cell}
                        </button>`
                      : cell}
                  </th>`,
            )}
          </tr>`,
        )}
      </tbody>
    </table>
  </div>`;
}

function Verdict({ block, link }) {
  return html`<section class=${`verdict ${block.look.replace(" ", "-")}`} aria-label="Verdict">
    <p class="headline" role="status">${block.headline}</p>
    <${Blocks} blocks=${block.blocks} link=${link} />
  </section>`;
}

function Candidates({ block }) {
  return html`<ul class=${block.stale ? "candidates stale" : "candidates"} aria-label="Candidates">
    ${block.rows.map(
      (one) => html`<li key=${one.name} class=${one.fits ? "fits" : "out"}>
        <span class="name">${one.name}</span>
        <span class="bar" aria-hidden="true"
          ><span style=${`width:${Math.max(100 * one.share, one.share > 0 ? 0.6 : 0)}%`}></span
        ></span>
        <span class="standing"
          >${[one.standing, one.p, one.yield].filter(Boolean).join(" · ")}</span
        >
      </li>`,
    )}
  </ul>`;
}

function Step({ block, link }) {
  const name = useName("step");
  const key = `step ${block.id}`;
  const value = Number(link.text(key, block.value));
  const move = (to) => link.act("step", { id: block.id, to }, { key, text: to });
  const last = block.words.length - 1;
  return html`<div class="step">
    <label for=${name}>${block.label}</label>
    <input
      id=${name}
      data-control=${block.id}
      type="range"
      min="0"
      max=${last}
      step="1"
      value=${value}
      aria-valuetext=${block.words[value]}
      onInput=${(event) => move(Number(event.target.value))}
      onBlur=${() => link.act("left", { id: block.id })}
    />
    <output for=${name}>${block.words[value]}</output>
    ${block.own >= 0 && value !== block.own
      ? html`<button type="button" class="button quiet" onClick=${() => move(block.own)}>
          back to ${block.words[block.own].replace(" (mine)", "")}
        </button>`
      : null}
  </div>`;
}

function Progress({ block, link }) {
  return html`<div class="progress">
    <span class="turn" aria-hidden="true"></span>
    <span role="status">${block.words}</span>
    <button
      type="button"
      class="button"
      data-control=${block.id}
      onClick=${() => link.act("press", { id: block.id })}
    >
      Stop
    </button>
  </div>`;
}

/** Hand a file to Python. @param {Link} link @param {string} id @param {File} file */
export function hand(link, id, file) {
  const reader = new FileReader();
  reader.onload = () =>
    link.act("file", { id, name: file.name, base64: String(reader.result).split(",")[1] || "" });
  reader.readAsDataURL(file);
}

function FileControl({ block, link }) {
  const name = useName("file");
  const give = (event) => {
    const file = event.target.files && event.target.files[0];
    if (file) hand(link, block.id, file);
    event.target.value = "";
  };
  return html`<div class="field">
    <label for=${name}>${block.label}</label>
    <input id=${name} data-control=${block.id} type="file" accept=${block.accept} onChange=${give} />
  </div>`;
}

function Equation({ part }) {
  return html`<p class="equation">
    ${part.sides.map((side, i) => html`<span key=${i}>${i ? "= " : ""}${side}</span>`)}
    ${part.remark ? html`<span class="hint">${part.remark}</span>` : null}
  </p>`;
}

/** Pictures of documents are images: whatever is in them cannot act. */
function Drawing({ part }) {
  const source = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(part.svg)}`;
  return html`<figure class="drawing">
    <img src=${source} alt=${part.alt_text} />
    ${part.caption ? html`<figcaption>${part.caption}</figcaption>` : null}
  </figure>`;
}

/** Cells longer than this are words, not numbers. */
const WORDY = 40;

function Part({ part }) {
  switch (part.kind) {
    case "strong":
      return html`<p class="strong">${part.text}</p>`;
    case "subheading":
      return html`<h4>${part.text}</h4>`;
    case "list":
      return html`<${List} block=${part} />`;
    case "table":
      return html`<${Table} block=${{ ...part, prose: part.rows.some((row) => row.some((cell) => cell.length > WORDY)) }} />`;
    case "equation":
      return html`<${Equation} part=${part} />`;
    case "picture":
      return html`<${Drawing} part=${part} />`;
    case "field":
      return html`<p>${part.label}: ${part.value || "________________"}</p>`;
    default:
      return html`<p>${part.text}</p>`;
  }
}

function DocumentBlock({ block }) {
  return html`<article class="document">
    ${block.titled && block.title ? html`<h2>${block.title}</h2>` : null}
    ${block.opening.map((text, i) => html`<p key=${i}>${text}</p>`)}
    ${block.sections.map(
      (section, i) => html`<section key=${i}>
        ${section.title ? html`<h3>${section.title}</h3>` : null}
        ${section.parts.map((part, j) => html`<${Part} key=${j} part=${part} />`)}
      </section>`,
    )}
  </article>`;
}

function Source({ block }) {
  return html`<pre class="source" tabindex="0" role="region" aria-label=${block.label}>
${block.text}</pre
  >`;
}

/** Browsers offer their clipboard to pages of safe origin alone; a selection can always be copied. */
async function copy(text) {
  if (navigator.clipboard && window.isSecureContext) return navigator.clipboard.writeText(text);
  const held = document.createElement("textarea");
  held.value = text;
  document.body.append(held);
  held.select();
  const done = document.execCommand("copy");
  held.remove();
  if (!done) throw new Error("the browser refused");
}

function Copy({ block }) {
  const [said, say] = useState("");
  const press = () =>
    copy(block.text).then(
      () => say("Copied."),
      () => say("The browser does not allow copying: select the text instead."),
    );
  return html`<div class="row">
    <button type="button" class="button" onClick=${press}>${block.label}</button>
    <span class="note" role="status">${said}</span>
  </div>`;
}

/** A text that the browser keeps; what it had kept is told once. */
class Kept extends Component {
  componentDidMount() {
    const { block, link } = this.props;
    const found = read(block.place);
    if (found && found !== block.text) link.act("set", { id: block.id, to: found });
    else if (block.text) write(block.place, block.text);
  }

  componentDidUpdate() {
    const { block } = this.props;
    if (block.text) write(block.place, block.text);
  }

  render() {
    return null;
  }
}

/** @param {string} place */
function read(place) {
  try {
    return window.localStorage.getItem(place) || "";
  } catch {
    return ""; // the browser may forbid it
  }
}

/** @param {string} place @param {string} text */
function write(place, text) {
  try {
    window.localStorage.setItem(place, text);
  } catch {
    return; // full, or forbidden: the kernel keeps it too
  }
}

/** @type {Record<string, any>} */
const Kinds = {
  heading: Heading,
  words: Words,
  field: Field,
  choice: Choice,
  tick: Tick,
  button: Button,
  row: Row,
  chip: Chip,
  sentence: Sentence,
  details: Details,
  list: List,
  table: Table,
  verdict: Verdict,
  candidates: Candidates,
  step: Step,
  progress: Progress,
  file: FileControl,
  document: DocumentBlock,
  picture: Picture,
  sheet: Sheet,
  source: Source,
  copy: Copy,
  kept: Kept,
};
