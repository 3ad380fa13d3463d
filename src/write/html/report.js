// Choosing, pan and zoom, search, ticks, units and colours. Without it the page still shows everything.
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const root = document.documentElement;
  const byId = (id) => document.getElementById(id);
  const all = (query, from = document) => Array.from(from.querySelectorAll(query));
  const panels = new Map(data.panels.map((p) => [p.id, p]));
  const findings = new Map(data.findings.map(([number, panel, post]) => [String(number), { panel, post }]));

  // What the page remembers. A browser may refuse to: then it remembers until it is closed, and says so.
  const memory = {
    kept: {},
    read() {
      try {
        this.kept = JSON.parse(localStorage.getItem(data.key)) ?? {};
        localStorage.setItem(data.key, JSON.stringify(this.kept));
      } catch {
        byId("memory").textContent = "This browser keeps no ticks for this page: they last until it is closed.";
      }
    },
    write() {
      try {
        localStorage.setItem(data.key, JSON.stringify(this.kept));
      } catch {
        // It was said when the page opened.
      }
    },
  };
  memory.read();

  // Ticks: cut, drilled, installed.
  const ticks = all("[data-tick]");
  const steps = ["cut", "drilled", "installed"];
  const count = () => {
    for (const step of steps) {
      const of = ticks.filter((t) => t.dataset.step === step);
      const done = of.filter((t) => t.checked).length;
      byId(`progress-${step}`).value = done;
      byId(`count-${step}`).textContent = `${done} of ${of.length}`;
    }
  };
  for (const tick of ticks) {
    const name = `${tick.dataset.tick} ${tick.dataset.step}`;
    tick.checked = memory.kept[name] === true;
    tick.addEventListener("change", () => {
      if (tick.checked) memory.kept[name] = true;
      else delete memory.kept[name];
      memory.write();
      count();
    });
  }
  count();

  // Pan and zoom. Both drawings of the plan, one in each unit, share the view: its middle and size in parts of the sheet.
  const view = byId("view");
  const drawings = all("svg", view).map((svg) => ({ svg, box: svg.getAttribute("viewBox").split(" ").map(Number) }));
  const start = { x: 0.5, y: 0.5, zoom: 1 };
  let look = { ...start };
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
    const s = scale();
    look.x = within(look.x - dx * s.x);
    look.y = within(look.y - dy * s.y);
    show();
  };
  // The point under the pointer stays where it is.
  const zoom = (by, at) => {
    const s = scale();
    const [px, py] = at ? [at.x - s.rect.left - s.rect.width / 2, at.y - s.rect.top - s.rect.height / 2] : [0, 0];
    const to = Math.min(40, Math.max(1, look.zoom * by));
    const k = 1 - look.zoom / to;
    look = { x: within(look.x + px * s.x * k), y: within(look.y + py * s.y * k), zoom: to };
    show();
  };
  const whole = () => {
    look = { ...start };
    show();
  };
  const zooms = { in: () => zoom(1.4), out: () => zoom(1 / 1.4), all: whole };
  for (const button of all("[data-zoom]")) button.addEventListener("click", () => zooms[button.dataset.zoom]());

  const keys = {
    ArrowLeft: () => move(60, 0), ArrowRight: () => move(-60, 0), ArrowUp: () => move(0, 60), ArrowDown: () => move(0, -60),
    "+": zooms.in, "=": zooms.in, "-": zooms.out, "0": whole,
  };
  view.addEventListener("keydown", (event) => {
    const thing = event.target.closest("[data-object]");
    if (thing && (event.key === "Enter" || event.key === " ")) choose(thing.dataset.kind, thing.dataset.object, "plan");
    else if (keys[event.key] && !event.ctrlKey && !event.metaKey && !event.altKey) keys[event.key]();
    else return;
    event.preventDefault();
  });

  const wide = matchMedia("(min-width: 70rem)");
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
    if (thing) choose(thing.dataset.kind, thing.dataset.object, "plan");
  });

  // A rail is thin: what is nearest within a fingertip was meant.
  const kinds = { panel: "panel", tag: "panel", post: "post", finding: "finding" };
  const under = (x, y) => {
    for (const reach of [0, 5, 10, 16]) {
      for (let turn = 0; turn < (reach ? 8 : 1); turn += 1) {
        const at = [x + reach * Math.cos(turn * Math.PI / 4), y + reach * Math.sin(turn * Math.PI / 4)];
        const thing = document.elementFromPoint(...at)?.closest?.("#view [data-object]");
        if (thing && kinds[thing.dataset.kind]) return thing;
      }
    }
    return null;
  };

  // Choosing.
  const find = (kind, id) =>
    all("[data-object]").filter((e) => kinds[e.dataset.kind] === kind && e.dataset.object === id);
  const mark = (kind, id, name) => {
    for (const element of find(kind, id)) element.classList.add(name);
  };
  const words = (kind, id) => {
    if (kind !== "panel") return kind === "post" ? `Post ${id}` : `Finding ${id}`;
    const card = byId(`panel-${id}`);
    const size = all(".big > span", card).find((s) => s.className === root.dataset.unit) ?? card?.querySelector(".big");
    return `Panel ${id}, ${size?.textContent.trim() ?? ""}, ${card?.querySelector(".card-head p")?.textContent.trim() ?? ""}`;
  };
  const target = (kind, id) => {
    if (kind !== "post") return byId(`${kind}-${id}`);
    return all(`tr[data-kind="post"]`).find((row) => row.dataset.object === id);
  };
  let chosen = null;
  function choose(named, id, from) {
    const kind = kinds[named];
    if (!kind || (kind === "panel" && !panels.has(id))) return;
    chosen = { kind, id };
    for (const name of ["chosen", "linked"]) for (const e of all(`.${name}`)) e.classList.remove(name);
    mark(kind, id, "chosen");
    const own = kind === "finding" ? findings.get(id) : null;
    if (own?.panel) mark("panel", own.panel, "linked");
    if (own?.post) mark("post", own.post, "linked");
    if (kind === "panel") for (const post of panels.get(id)?.posts ?? []) mark("post", post, "linked");
    if (kind === "post") for (const p of panels.values()) if (p.posts.includes(id)) mark("panel", p.id, "linked");
    for (const [number, place] of findings) if (place[kind] === id) mark("finding", number, "linked");
    byId("chosen").textContent = `${words(kind, id)}.`;
    const place = target(kind, id) ?? (own?.panel && byId(`panel-${own.panel}`));
    const link = byId("chosen-link");
    link.hidden = !place;
    if (place && !place.id) place.id = `${kind}-${id}`;
    if (place) link.href = `#${place.id}`;
    if (from === "plan" && wide.matches) place?.scrollIntoView({ block: "start" });
    if (from !== "plan") {
      reveal(kind, id) || (own?.panel && reveal("panel", own.panel));
      if (from === "show" || !wide.matches) byId("plan").scrollIntoView({ block: "start" });
    }
  }

  // Brings a thing into the middle of the plan when it is out of sight there.
  const reveal = (kind, id) => {
    const thing = find(kind, id).find((e) => view.contains(e) && e.getClientRects().length > 0);
    if (!thing) return false;
    const [at, sheet] = [thing.getBoundingClientRect(), view.getBoundingClientRect()];
    const [x, y] = [(at.left + at.right) / 2, (at.top + at.bottom) / 2];
    const inside = x > sheet.left && x < sheet.right && y > sheet.top && y < sheet.bottom;
    if (!inside) move((sheet.left + sheet.right) / 2 - x, (sheet.top + sheet.bottom) / 2 - y);
    return true;
  };

  document.addEventListener("click", (event) => {
    const thing = event.target.closest?.("[data-object]");
    if (!thing || view.contains(thing)) return;
    const button = event.target.closest("button");
    const isChart = thing.closest(".stock");
    const isHead = event.target.closest(".card-head");
    if (button || isChart || isHead) choose(thing.dataset.kind, thing.dataset.object, button?.matches(".show") ? "show" : "list");
  });

  // Posts, panels and findings on the plan can be reached by the keyboard and have names.
  for (const { svg } of drawings) {
    svg.setAttribute("role", "group");
    svg.setAttribute("aria-label", svg.querySelector("title")?.textContent ?? "Plan");
    const met = new Set();
    for (const thing of all("[data-object]", svg)) {
      const { kind, object } = thing.dataset;
      if (!kinds[kind] || kind === "tag" || met.has(`${kind} ${object}`)) continue;
      met.add(`${kind} ${object}`);
      thing.setAttribute("tabindex", "0");
      thing.setAttribute("role", "button");
      thing.setAttribute("aria-label", words(kind, object));
    }
  }
  for (const svg of all(".elevation svg, .detail svg")) {
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", svg.querySelector("title")?.textContent ?? "Drawing");
  }

  // Search and run.
  const texts = all("[data-find]").map((element) => ({ element, text: element.textContent.toLowerCase() }));
  const filter = () => {
    const words = byId("search").value.toLowerCase().split(/\s+/).filter(Boolean);
    const run = byId("run").value;
    let [cards, others] = [0, 0];
    const inRun = (id) => !run || String(panels.get(id)?.run) === run;
    for (const { element, text } of texts) {
      const { kind, object, panel } = element.dataset;
      const about = kind === "panel" ? object : panel;
      // What is about no panel belongs to no run; lists stay whole.
      const fits = element.matches("tr") ? !about || inRun(about) : !run || (about && inRun(about));
      const isShown = fits && words.every((word) => text.includes(word));
      element.hidden = !isShown;
      if (isShown && element.matches(".card")) cards += 1;
      else if (isShown) others += 1;
    }
    for (const thing of all("[data-kind='panel'], [data-kind='tag']", view)) {
      thing.classList.toggle("faded", byId(`panel-${thing.dataset.object}`)?.hidden === true);
    }
    byId("found").textContent = words.length || run ? `${cards} of ${panels.size} panels, ${others} other entries` : "";
  };
  byId("search").addEventListener("input", filter);
  byId("run").addEventListener("change", filter);
  document.querySelector(".controls").addEventListener("submit", (event) => event.preventDefault());

  // Units, colours, print.
  const choice = (id, attribute) => {
    const select = byId(id);
    const apply = () => {
      if (select.value) root.dataset[attribute] = select.value;
      else delete root.dataset[attribute];
    };
    if (Array.from(select.options).some((o) => o.value === memory.kept[id])) select.value = memory.kept[id];
    select.addEventListener("change", () => {
      memory.kept[id] = select.value;
      memory.write();
      apply();
      if (chosen) byId("chosen").textContent = `${words(chosen.kind, chosen.id)}.`;
    });
    apply();
  };
  choice("unit", "unit");
  choice("theme", "theme");
  byId("print").addEventListener("click", () => print());
  let before = null;
  addEventListener("beforeprint", () => {
    before = { ...look };
    whole();
  });
  addEventListener("afterprint", () => {
    look = before ?? look;
    show();
  });
})();
