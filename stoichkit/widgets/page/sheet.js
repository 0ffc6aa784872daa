// @ts-check
/** A sheet of cells: rows are trials, columns readings. Paste, arrows, Enter and Tab move in it. */

import { useName } from "./names.js";
import { html, useLayoutEffect, useRef } from "./vendor/preact-htm.js";

/** @param {string} text A block copied from a spreadsheet. @returns {string[][]} */
export function cellsOf(text) {
  const lines = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "").split("\n");
  return lines.map((line) => line.split("\t"));
}

/** @param {{block: any, link: import("./link.js").Link}} given */
export function Sheet({ block, link }) {
  const held = useRef(/** @type {any} */ (null));
  const want = useRef(/** @type {null | [number, number]} */ (null));
  const stem = useName("sheet");
  const growing = `grow ${block.id}`;
  /** Rows that were asked for are there at once: what is typed next belongs to them. */
  const asked = Number(link.text(growing, 0)) - block.rows.length;
  const rows = [
    ...block.rows,
    ...Array.from({ length: Math.max(asked, 0) }, () => ({
      name: "",
      cells: block.columns.map(() => ({ text: "", refusal: "", mark: "", note: "", lines: 0 })),
      result: "",
      refusal: "",
    })),
  ];

  /** @param {number} row @param {number} column */
  const cellAt = (row, column) =>
    held.current && held.current.querySelector(`[data-at="${row}:${column}"]`);
  const go = (row, column) => {
    const found = cellAt(row, column);
    if (!found) return false;
    found.focus();
    if (found.select) found.select();
    return true;
  };
  // Before the next key: with useEffect it could still reach the cell that was left.
  useLayoutEffect(() => {
    if (want.current && go(...want.current)) want.current = null;
  });

  const type = (row, column) => (event) => {
    const to = event.target.value;
    const key = `cell ${block.id} ${row} ${column}`;
    link.act("cells", { id: block.id, row, column, to: [[to]] }, { key, text: to });
  };
  const paste = (row, column) => (event) => {
    const text = event.clipboardData && event.clipboardData.getData("text/plain");
    const cells = text ? cellsOf(text) : [];
    if (cells.length < 2 && (!cells[0] || cells[0].length < 2)) return;
    event.preventDefault();
    link.act("cells", { id: block.id, row, column, to: cells });
  };
  const press = (row, column, lines) => (event) => {
    const { key, target } = event;
    const start = target.selectionStart === 0 && target.selectionEnd === 0;
    const size = target.value.length;
    const end = target.selectionStart === size && target.selectionEnd === size;
    const all = target.selectionStart === 0 && target.selectionEnd === size;
    /** @type {null | [number, number]} */
    let to = null;
    if (key === "Enter" && !(lines && event.altKey)) to = [row + (event.shiftKey ? -1 : 1), column];
    else if (key === "ArrowDown") to = [row + 1, column];
    else if (key === "ArrowUp") to = [row - 1, column];
    else if (key === "ArrowLeft" && (start || all)) to = [row, column - 1];
    else if (key === "ArrowRight" && (end || all)) to = [row, column + 1];
    if (!to) return;
    event.preventDefault();
    if (go(to[0], to[1])) return;
    const count = rows.length;
    if (key !== "Enter" || to[0] < count || !block.grows) return;
    want.current = [count, 0];
    const added = { id: block.id, row: count, column: 0, to: [[""]] };
    link.act("cells", added, { key: growing, text: count + 1 });
  };
  const leave = () => link.act("left", { id: block.id });

  /** @param {number} row @param {number} column @param {any} cell @param {string} name */
  const drawn = (row, column, cell, name) => {
    const label = `${name}, ${block.columns[column].label}`;
    const text = link.text(`cell ${block.id} ${row} ${column}`, cell.text);
    const note = cell.refusal || cell.note;
    return html`<td key=${column} class=${cell.refusal ? "refused" : cell.mark.replace(" ", "-")}>
      <input
        type="text"
        data-at=${`${row}:${column}`}
        data-control=${`${block.id} ${row} ${column}`}
        value=${text}
        style=${`min-width:${Math.min(String(text).length, 30) + 3}ch`}
        aria-label=${cell.mark ? `${label}, ${cell.mark}` : label}
        aria-invalid=${cell.refusal ? "true" : undefined}
        aria-describedby=${cell.refusal ? `${stem}-${row}` : undefined}
        title=${note || undefined}
        inputmode="decimal"
        autocomplete="off"
        spellcheck=${false}
        onInput=${type(row, column)}
        onPaste=${paste(row, column)}
        onKeyDown=${press(row, column, cell.lines)}
        onBlur=${leave}
      />
      ${cell.mark === "what if" ? html`<span class="was">${cell.note}</span>` : null}
    </td>`;
  };
  /** Why cells of a row are refused, below it. @param {any} row @param {number} i */
  const why = (row, i) => {
    const refused = row.cells.map((cell, j) => [block.columns[j].label, cell.refusal]);
    const said = refused.filter(([, refusal]) => refusal);
    if (!said.length) return null;
    return html`<tr key=${`why ${i}`} class="why">
      <td colspan=${block.columns.length + (block.result ? 2 : 1)} id=${`${stem}-${i}`}>
        ${said.map(([label, refusal]) => html`<p key=${label}>${label}: ${refusal}</p>`)}
      </td>
    </tr>`;
  };
  const rename = (row) => (event) => {
    const to = event.target.value;
    const key = `name ${block.id} ${row}`;
    link.act("cells", { id: block.names, row, column: 0, to: [[to]] }, { key, text: to });
  };
  return html`<div class="scroll sheet" role="group" aria-label=${block.label} ref=${held}>
    <table>
      <thead>
        <tr>
          <th scope="col">${block.names ? "trial" : ""}</th>
          ${block.columns.map(
            (one, i) =>
              html`<th key=${i} scope="col">${one.label}${one.unit ? `, ${one.unit}` : ""}</th>`,
          )}
          ${block.result ? html`<th scope="col" class="result">${block.result}</th>` : null}
        </tr>
      </thead>
      <tbody>
        ${rows.map((row, i) => [
          html`<tr key=${i}>
            <th scope="row">
              ${block.names
                ? html`<input
                    type="text"
                    aria-label=${`Name of trial ${i + 1}`}
                    value=${link.text(`name ${block.id} ${i}`, row.name)}
                    onInput=${rename(i)}
                    onBlur=${leave}
                    autocomplete="off"
                    spellcheck=${false}
                  />`
                : row.name}
            </th>
            ${row.cells.map((cell, j) => drawn(i, j, cell, row.name))}
            ${block.result
              ? html`<td class=${row.refusal ? "result refused" : "result"}>
                  ${row.refusal || row.result}
                </td>`
              : null}
          </tr>`,
          why(row, i),
        ])}
      </tbody>
    </table>
  </div>`;
}
