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

  // Both drawings of the plan, one in each unit, share the view.
  const view = byId("view");
  const plan = panAndZoom(view, (thing) => choose(thing.dataset.kind, thing.dataset.object, "plan"));
  const { wide } = plan;
  const { kinds } = panAndZoom;
  plan.adopt();

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

  const reveal = (kind, id) => {
    const thing = find(kind, id).find((e) => view.contains(e) && e.getClientRects().length > 0);
    if (thing) plan.reveal(thing);
    return Boolean(thing);
  };

  document.addEventListener("click", (event) => {
    const thing = event.target.closest?.("[data-object]");
    if (!thing || view.contains(thing)) return;
    const button = event.target.closest("button");
    const isChart = thing.closest(".stock");
    const isHead = event.target.closest(".card-head");
    if (button || isChart || isHead) choose(thing.dataset.kind, thing.dataset.object, button?.matches(".show") ? "show" : "list");
  });

  plan.name(words);
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
  let back = () => {};
  addEventListener("beforeprint", () => {
    back = plan.whole();
  });
  addEventListener("afterprint", () => back());
})();
