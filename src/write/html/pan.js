// Pan and zoom of drawings that stand in a view: by mouse, wheel, fingers and keys. All drawings of a view share where one
// looks: the middle and the size, in parts of the sheet.
"use strict";
function panAndZoom(view, onClick) {
  const start = { x: 0.5, y: 0.5, zoom: 1 };
  const wide = matchMedia("(min-width: 70rem)");
  let look = { ...start };
  let drawings = [];
  const show = () => {
    for (const { svg, box } of drawings) {
      const [w, h] = [box[2] / look.zoom, box[3] / look.zoom];
      const [x, y] = [box[0] + look.x * box[2] - w / 2, box[1] + look.y * box[3] - h / 2];
      svg.setAttribute("viewBox", [x, y, w, h].map((v) => v.toFixed(3)).join(" "));
    }
  };
  const within = (v) => Math.min(1, Math.max(0, v));
  const shown = () => drawings.find(({ svg }) => svg.getClientRects().length > 0) ?? drawings[0];
  // Pixels to parts of the sheet, by which a drag moves it.
  const scale = () => {
    const { svg, box } = shown();
    const rect = svg.getBoundingClientRect();
    const perPixel = Math.max(box[2] / rect.width, box[3] / rect.height) / look.zoom;
    return { rect, x: perPixel / box[2], y: perPixel / box[3] };
  };
  const move = (dx, dy) => {
    if (drawings.length === 0) return;
    const s = scale();
    look.x = within(look.x - dx * s.x);
    look.y = within(look.y - dy * s.y);
    show();
  };
  // The point under the pointer stays where it is.
  const zoom = (by, at) => {
    if (drawings.length === 0) return;
    const s = scale();
    const [px, py] = at ? [at.x - s.rect.left - s.rect.width / 2, at.y - s.rect.top - s.rect.height / 2] : [0, 0];
    const to = Math.min(40, Math.max(1, look.zoom * by));
    const k = 1 - look.zoom / to;
    look = { x: within(look.x + px * s.x * k), y: within(look.y + py * s.y * k), zoom: to };
    show();
  };
  const lookAt = (there) => {
    look = { ...there };
    show();
  };
  const zooms = { in: () => zoom(1.4), out: () => zoom(1 / 1.4), all: () => lookAt(start) };
  for (const button of document.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", () => zooms[button.dataset.zoom]());
  }

  const keys = {
    ArrowLeft: () => move(60, 0), ArrowRight: () => move(-60, 0), ArrowUp: () => move(0, 60), ArrowDown: () => move(0, -60),
    "+": zooms.in, "=": zooms.in, "-": zooms.out, "0": zooms.all,
  };
  view.addEventListener("keydown", (event) => {
    const thing = event.target.closest("[data-object]");
    if (thing && (event.key === "Enter" || event.key === " ")) onClick(thing);
    else if (keys[event.key] && !event.ctrlKey && !event.metaKey && !event.altKey) keys[event.key]();
    else return;
    event.preventDefault();
  });

  view.addEventListener("wheel", (event) => {
    // Where the plan stands in the way of scrolling, it takes the wheel only with the key that browsers zoom by.
    if (!wide.matches && !event.ctrlKey) return;
    event.preventDefault();
    zoom(Math.exp(-event.deltaY * 0.002), { x: event.clientX, y: event.clientY });
  }, { passive: false });

  // One finger or the mouse drags, two fingers pinch; what did not move was a click.
  const fingers = new Map();
  let travelled = 0;
  const spread = () => {
    const [a, b] = fingers.values();
    return { size: Math.hypot(a.x - b.x, a.y - b.y), x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  };
  view.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    if (fingers.size === 0) travelled = 0;
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  view.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const pinch = fingers.size === 2 ? spread() : null;
    travelled += Math.hypot(now.x - before.x, now.y - before.y);
    if (travelled > 6 && !view.hasPointerCapture(event.pointerId)) view.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, now);
    view.classList.add("moving");
    if (pinch) {
      const after = spread();
      move(after.x - pinch.x, after.y - pinch.y);
      if (pinch.size > 0) zoom(after.size / pinch.size, after);
    } else if (fingers.size === 1) {
      move(now.x - before.x, now.y - before.y);
    }
  });
  const lift = (event) => {
    fingers.delete(event.pointerId);
    if (fingers.size === 0) view.classList.remove("moving");
  };
  for (const name of ["pointerup", "pointercancel"]) view.addEventListener(name, lift);
  addEventListener("blur", () => fingers.clear());
  view.addEventListener("click", (event) => {
    if (travelled > 6) return;
    const thing = under(event.clientX, event.clientY);
    if (thing) onClick(thing);
  });

  // A rail is thin: what is nearest within a fingertip was meant.
  const under = (x, y) => {
    for (const reach of [0, 5, 10, 16]) {
      for (let turn = 0; turn < (reach ? 8 : 1); turn += 1) {
        const at = [x + reach * Math.cos(turn * Math.PI / 4), y + reach * Math.sin(turn * Math.PI / 4)];
        const thing = document.elementFromPoint(...at)?.closest?.("[data-object]");
        if (thing && view.contains(thing) && panAndZoom.kinds[thing.dataset.kind]) return thing;
      }
    }
    return null;
  };

  return {
    wide,
    move,
    // Takes the drawings that now stand in the view, and looks where one looked before.
    adopt() {
      drawings = Array.from(view.querySelectorAll("svg"), (svg) => ({ svg, box: svg.getAttribute("viewBox").split(" ").map(Number) }));
      show();
    },
    // Brings a thing into the middle when it is out of sight.
    reveal(thing) {
      const [at, sheet] = [thing.getBoundingClientRect(), view.getBoundingClientRect()];
      const [x, y] = [(at.left + at.right) / 2, (at.top + at.bottom) / 2];
      const inside = x > sheet.left && x < sheet.right && y > sheet.top && y < sheet.bottom;
      if (!inside) move((sheet.left + sheet.right) / 2 - x, (sheet.top + sheet.bottom) / 2 - y);
    },
    // Shows all, and gives what brings back where one looked.
    whole() {
      const before = { ...look };
      lookAt(start);
      return () => lookAt(before);
    },
    // Posts, panels and findings can be reached by the keyboard and have names.
    name(words) {
      for (const { svg } of drawings) {
        svg.setAttribute("role", "group");
        svg.setAttribute("aria-label", svg.querySelector("title")?.textContent ?? "Plan");
        const met = new Set();
        for (const thing of svg.querySelectorAll("[data-object]")) {
          const { kind, object } = thing.dataset;
          if (!panAndZoom.kinds[kind] || kind === "tag" || met.has(`${kind} ${object}`)) continue;
          met.add(`${kind} ${object}`);
          thing.setAttribute("tabindex", "0");
          thing.setAttribute("role", "button");
          thing.setAttribute("aria-label", words(kind, object));
        }
      }
    },
  };
}
// What can be chosen on a plan; a tag is its panel's.
panAndZoom.kinds = { panel: "panel", tag: "panel", post: "post", finding: "finding" };
