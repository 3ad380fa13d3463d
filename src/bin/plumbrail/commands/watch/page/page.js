// Shows what the program tells, and asks it for other settings. Texts of the plan are only ever set as text; the drawing is
// made by the program, which escapes them.
(() => {
  const byId = (id) => document.getElementById(id);
  const view = byId("view");
  const plan = panAndZoom(view, (thing) => choose(thing.dataset.kind, thing.dataset.object));
  const { kinds } = panAndZoom;
  let findings = [];
  let changes = {};

  const words = (kind, id) => {
    const named = kinds[kind];
    const what = named === "finding" ? `finding ${id}: ${findings[id - 1]?.message ?? ""}` : `${named} ${id}`;
    return what.charAt(0).toUpperCase() + what.slice(1);
  };
  const all = (query) => Array.from(document.querySelectorAll(query));
  let chosen = null;
  function mark() {
    for (const name of ["chosen", "linked"]) for (const e of all(`.${name}`)) e.classList.remove(name);
    if (!chosen) return;
    const find = (kind, id) => all("[data-object]").filter((e) => kinds[e.dataset.kind] === kind && e.dataset.object === id);
    for (const e of find(chosen.kind, chosen.id)) e.classList.add("chosen");
    const place = chosen.kind === "finding" ? findings[chosen.id - 1]?.place : null;
    for (const kind of ["panel", "post"]) {
      if (place?.[kind]) for (const e of find(kind, place[kind])) e.classList.add("linked");
    }
    findings.forEach((f, i) => {
      if (f.place[chosen.kind] === chosen.id) byId(`finding-${i + 1}`)?.classList.add("linked");
    });
  }
  function choose(named, id) {
    chosen = { kind: kinds[named], id };
    mark();
    byId("chosen").textContent = words(named, id);
    const place = chosen.kind === "finding" ? findings[id - 1]?.place : null;
    const there = [[chosen.kind, id], ["panel", place?.panel], ["post", place?.post]];
    const thing = there.map(([kind, id]) => all("#view [data-object]").find((e) => kinds[e.dataset.kind] === kind && e.dataset.object === id));
    const first = thing.find(Boolean);
    if (first) plan.reveal(first);
  }

  const element = (name, text, more = {}) => Object.assign(document.createElement(name), { textContent: text }, more);
  const finding = (f, number) => {
    const item = element("li", "", { className: `finding ${f.severity}`, id: `finding-${number}` });
    Object.assign(item.dataset, { kind: "finding", object: String(number) });
    const { panel, post, layer, handle, line } = f.place;
    const place = [panel && `panel ${panel}`, post && `post ${post}`, layer && `layer ${layer}`, handle && `handle ${handle}`, line && `line ${line}`];
    const head = [`${f.severity}${f.repaired ? ", repaired" : ""}`, ...place.filter(Boolean)].join(" · ");
    const button = element("button", "", { type: "button", className: "link" });
    button.append(element("span", String(number), { className: "number" }), ` ${head}`);
    button.addEventListener("click", () => choose("finding", String(number)));
    item.append(button, element("p", f.message));
    if (f.hint) item.append(element("p", `Hint: ${f.hint}`, { className: "hint" }));
    item.append(element("p", f.code, { className: "code" }));
    return item;
  };

  // The form. What is being typed is not taken away by a save.
  const form = byId("settings");
  const fields = Array.from(form.elements).filter((e) => e.name);
  const told = (text, isWrong) => {
    byId("settings-told").textContent = text;
    byId("settings-told").classList.toggle("wrong", isWrong);
  };
  const fill = (now) => {
    for (const [name, list] of [["system", now.choices.systems], ["rules", now.choices.rules]]) {
      const field = form.elements[name];
      if (list.length !== field.options.length || list.some((n, i) => field.options[i].value !== n)) {
        field.replaceChildren(...list.map((n) => element("option", n, { value: n })));
      }
    }
    for (const field of fields) {
      const value = now.values[field.name];
      field.disabled = value === null;
      if (field !== document.activeElement || field.tagName === "SELECT") field.value = value ?? "";
      field.parentElement.classList.toggle("changed", field.name in now.changes);
    }
    for (const id of ["write", "back"]) byId(id).disabled = Object.keys(now.changes).length === 0;
    byId("job").textContent = now.job;
    byId("ready").disabled = false;
  };
  const ask = async (path, body) => {
    try {
      const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
      const { text } = await answer.json();
      told(text, !answer.ok);
      return answer.ok;
    } catch {
      told("The program does not answer.", true);
      return false;
    }
  };
  let later = 0;
  const changed = (field) => {
    clearTimeout(later);
    const wanted = { ...changes, [field.name]: field.value.trim() };
    if (wanted[field.name] === "") delete wanted[field.name];
    ask("settings", wanted);
  };
  for (const field of fields) {
    field.addEventListener("change", () => changed(field));
    field.addEventListener("input", () => {
      if (field.tagName === "SELECT") return;
      clearTimeout(later);
      later = setTimeout(() => changed(field), 400);
    });
  }
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    changed(form.elements.inset);
  });
  byId("back").addEventListener("click", () => ask("settings", {}));
  byId("write").addEventListener("click", () => ask("job", {}));

  const standing = (state, text) => {
    byId("standing").dataset.state = state;
    byId("standing").textContent = text;
    view.dataset.old = String(["waiting", "kept", "gone"].includes(state));
  };
  const size = (bytes) => (bytes < 1e6 ? `${Math.ceil(bytes / 1e3)} kB` : `${(bytes / 1e6).toFixed(1)} MB`);
  let laidOut = 0;
  const topics = {
    plan(now) {
      laidOut += 1;
      ({ findings, changes } = now);
      // Findings have other numbers now.
      if (chosen?.kind === "finding") {
        chosen = null;
        byId("chosen").textContent = "Choose a post, a panel or a finding.";
      }
      view.innerHTML = now.svg;
      plan.adopt();
      byId("list").replaceChildren(...findings.map((f, i) => finding(f, i + 1)));
      byId("none").hidden = findings.length > 0;
      plan.name(words);
      byId("holds").textContent = `${now.headline[0].toUpperCase()}${now.headline.slice(1)}.`;
      byId("verdict").className = `verdict ${now.complete && now.limits_hold ? "good" : "bad"}`;
      byId("summary").textContent = `${now.posts} posts, ${now.panels} panels; ${now.proof}.`;
      fill(now);
      mark();
      view.dataset.number = String(laidOut);
    },
    status(now) {
      const preview = Object.keys(changes).length > 0 ? " with the settings below" : "";
      const texts = {
        shown: `This is the newest save${preview}.`,
        waiting: `The plan is being saved. Shown is the layout before. (${now.why})`,
        kept: `The newest save is not shown: ${now.why}. Shown is the last one that could be laid out.`,
        unwritten: `Shown is the newest save, but its files were not written: ${now.why}`,
      };
      standing(now.state, texts[now.state]);
    },
    files(list) {
      byId("making").textContent = list.length === 0 ? "They are being made." : "Of the layout that is shown:";
      byId("files").replaceChildren(...list.map(({ name, bytes }) => {
        const item = element("li", "");
        const path = `files/${name.split("/").map(encodeURIComponent).join("/")}`;
        item.append(element("a", name, { href: path, download: name.split("/").pop() }), " ", element("span", size(bytes)));
        return item;
      }));
    },
  };
  const events = new EventSource("events");
  for (const [topic, show] of Object.entries(topics)) {
    events.addEventListener(topic, (event) => show(JSON.parse(event.data)));
  }
  events.addEventListener("error", () => standing("gone", "The program does not answer: it was stopped, or a new one has another address."));
})();
