// @ts-check
/** A picture: a scene of lines, areas, marks and words, with spots to point at and to move. */

import { html, useEffect, useRef, useState } from "./vendor/preact-htm.js";

const ROUND = 0.5522847498307936;
const paint = (role) => (/^[a-z]+$/.test(role) ? `var(--pic-${role})` : role);

function pairs(flat) {
  const found = [];
  for (let i = 0; i < flat.length; i += 2) found.push(`${flat[i]},${flat[i + 1]}`);
  return found.join(" ");
}

function ellipse([x, y, ux, uy, vx, vy]) {
  const turns = [
    [1, 0], [1, ROUND], [ROUND, 1], [0, 1], [-ROUND, 1], [-1, ROUND], [-1, 0],
    [-1, -ROUND], [-ROUND, -1], [0, -1], [ROUND, -1], [1, -ROUND], [1, 0],
  ];
  const at = turns.map(([p, q]) => `${(x + p * ux + q * vx).toFixed(2)} ${(y + p * uy + q * vy).toFixed(2)}`);
  return `M${at[0]} C${at.slice(1, 4).join(" ")} C${at.slice(4, 7).join(" ")} C${at.slice(7, 10).join(" ")} C${at.slice(10, 13).join(" ")}Z`;
}

function Item({ item }) {
  const ink = paint(item.ink);
  switch (item.is) {
    case "line":
      return html`<polyline points=${pairs(item.at)} style=${`fill:none;stroke:${ink}`} stroke-width=${item.width} stroke-dasharray=${item.dashes ? item.dashes.join(" ") : undefined} />`;
    case "area":
      return html`<polygon points=${pairs(item.at)} style=${`fill:${ink};fill-opacity:${item.opacity};${item.edge ? `stroke:${paint(item.edge)};stroke-width:0.9` : ""}`} />`;
    case "ellipse":
      return html`<path d=${ellipse(item.at)} style=${`fill:${item.opacity ? ink : "none"};fill-opacity:${item.opacity};stroke:${ink}`} stroke-width=${item.width} />`;
    case "circle":
      return html`<circle cx=${item.at[0]} cy=${item.at[1]} r=${item.size} style=${`fill:${ink};stroke:var(--pic-paper)`} stroke-width="0.8" />`;
    case "diamond": {
      const [x, y] = item.at;
      const s = item.size;
      return html`<path d=${`M${x} ${y - s}L${x + s} ${y}L${x} ${y + s}L${x - s} ${y}Z`} style=${`fill:${ink};stroke:var(--pic-paper)`} stroke-width="0.8" />`;
    }
    case "words": {
      const [x, y] = item.at;
      return html`<text x=${x} y=${y} font-size=${item.size} text-anchor=${item.anchor === "start" ? undefined : item.anchor} font-weight=${item.bold ? "bold" : undefined} style=${`fill:${ink}`} transform=${item.angle ? `rotate(${item.angle} ${x} ${y})` : undefined}>${item.text}</text>`;
    }
    default:
      return null;
  }
}

/** @param {{block: any, link: import("./link.js").Link}} given */
export function Picture({ block, link }) {
  const frame = useRef(/** @type {any} */ (null));
  const drawing = useRef(/** @type {any} */ (null));
  const [pointed, point] = useState("");
  const [held, hold] = useState(/** @type {any} */ (null));
  /** A dot stays under the pointer that holds it, even if the axes change with what it tells. */
  const [x0, x1, y0, y1] = (held && held.limits) || block.limits;
  const { width, height } = block;
  const place = ([x, y], [a, b, c, d] = block.limits) => [
    ((x - a) / (b - a)) * width,
    height - ((y - c) / (d - c)) * height,
  ];
  const key = (spot) => `move ${block.id} ${spot.name}`;

  useEffect(() => {
    if (!block.sizes || !frame.current || typeof ResizeObserver === "undefined") return undefined;
    let timer = /** @type {any} */ (0);
    let sent = 0;
    const measure = () => {
      const wide = Math.floor(frame.current ? frame.current.clientWidth : 0);
      if (wide < 100 || (wide >= sent && wide - sent < 9)) return; // letters may not shrink
      sent = wide;
      link.act("pick", { id: `${block.id}:width`, to: wide }, { key: `width ${block.id}` });
    };
    const observer = new ResizeObserver(() => {
      clearTimeout(timer);
      timer = setTimeout(measure, 120);
    });
    observer.observe(frame.current);
    return () => observer.disconnect();
  }, [block.id, block.sizes]);

  const at = (event) => {
    const box = drawing.current.getBoundingClientRect();
    const x = x0 + ((event.clientX - box.left) / box.width) * (x1 - x0);
    const y = y1 - ((event.clientY - box.top) / box.height) * (y1 - y0);
    return [x, y];
  };
  const send = (spot, x, y) =>
    link.act("move", { id: `${block.id}:move`, spot: spot.name, x, y }, { key: key(spot), text: [x, y] });
  /** A spot that does not move is taken where it stands. */
  const take = (spot, event) => {
    event.preventDefault();
    link.act("move", { id: `${block.id}:move`, spot: spot.name, x: spot.x, y: spot.y });
  };
  /** A place of the plane is taken by the spot that can be moved. */
  const pick = (event) => {
    const spot = block.spots.find((one) => one.drag);
    if (!block.picks || !spot || event.target.closest(".spot")) return;
    const [x, y] = at(event);
    if (x < x0 || x > x1 || y < y0 || y > y1) return;
    send(spot, x, y);
    link.act("left", { id: block.id });
  };
  const down = (spot) => (event) => {
    if (!spot.drag && block.picks) {
      event.currentTarget.focus();
      take(spot, event);
    }
    if (!spot.drag || !block.moves) return;
    event.preventDefault();
    event.currentTarget.focus();
    event.currentTarget.setPointerCapture(event.pointerId);
    hold({ name: spot.name, at: [spot.x, spot.y], limits: block.limits });
  };
  const drag = (spot) => (event) => {
    if (!held || !held.limits || held.name !== spot.name) return;
    const [x, y] = at(event);
    hold({ ...held, at: [x, y] });
    send(spot, x, y);
  };
  const drop = () => {
    if (held) link.act("left", { id: block.id });
    hold(null);
  };
  const press = (spot) => (event) => {
    if (!spot.drag && block.picks && (event.key === "Enter" || event.key === " ")) take(spot, event);
    if (!spot.drag || !block.moves) return;
    const far = event.shiftKey ? 20 : 100;
    const dx = (x1 - x0) / far;
    const dy = (y1 - y0) / far;
    const turn = { ArrowLeft: [-dx, 0], ArrowRight: [dx, 0], ArrowUp: [0, dy], ArrowDown: [0, -dy] }[event.key];
    if (!turn) return;
    event.preventDefault();
    const [x, y] = held && held.name === spot.name ? held.at : [spot.x, spot.y];
    const to = [x + turn[0], y + turn[1]];
    hold({ name: spot.name, at: to, limits: null });
    send(spot, to[0], to[1]);
  };

  return html`<figure class=${block.stale ? "picture stale" : "picture"} ref=${frame}>
    <svg ref=${drawing} class=${block.picks ? "picks" : ""} onClick=${pick} viewBox=${`0 0 ${width} ${height}`} style=${`width:${Math.round(width * 1.5)}px`} role="group" aria-label=${block.title}>
      <g aria-hidden="true">${block.items.map((item, i) => html`<${Item} key=${i} item=${item} />`)}</g>
      ${block.spots.map((spot, i) => {
        const moving = held && held.name === spot.name;
        const own = link.text(key(spot), [spot.x, spot.y]);
        const [x, y] = moving ? place(held.at, held.limits || block.limits) : place(own);
        const live = block.moves && (spot.drag || block.picks);
        const said = !live ? spot.words : `${spot.words}. ${spot.drag ? "Arrow keys move it" : "Enter takes it"}`;
        return html`<g key=${i} class=${moving ? "spot moving" : "spot"} tabindex="0" role=${live ? "button" : "img"} aria-label=${said}
          onPointerDown=${down(spot)} onPointerMove=${drag(spot)} onPointerUp=${drop} onPointerCancel=${drop}
          onKeyDown=${press(spot)} onMouseEnter=${() => point(spot.words)} onMouseLeave=${() => point("")}
          onFocus=${() => point(spot.words)} onBlur=${() => { point(""); hold(null); link.act("left", { id: block.id }); }}>
          <circle cx=${x} cy=${y} r="9" class="target" />
          ${moving ? html`<circle cx=${x} cy=${y} r="4" class="moved" />` : null}
        </g>`;
      })}
    </svg>
    <figcaption>
      <span class="pointed">${pointed || block.hint}</span>
      ${block.saves
        ? html`<span class="saves"
            ><button type="button" class="button quiet" onClick=${() => link.act("set", { id: `${block.id}:save`, to: "svg" })}>Save SVG</button
            ><button type="button" class="button quiet" onClick=${() => link.act("set", { id: `${block.id}:save`, to: "png" })}>Save PNG</button></span
          >`
        : null}
      <details class="described"><summary>The picture in words</summary><p>${block.alt}</p></details>
    </figcaption>
  </figure>`;
}
