// Opens report.html files from disk in Debian's Chromium and does what a person does with them. Run from this folder after
// `npm ci`:  node report.mjs FILE.html...   Ends with `OK ...`, or with what is wrong.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFile, writeFile } from "node:fs/promises";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { browser, desk, faults, fitsPhone, open } from "./page.mjs";

const { context, profile, close } = await browser();
const openFile = (file) => open(context, pathToFileURL(file).href, "file:");

const viewBox = (page) => page.locator("#view svg >> visible=true").first().getAttribute("viewBox");
const isChosen = (page, selector) => page.locator(selector).first().evaluate((e) => e.classList.contains("chosen"));

async function panAndZoom(page) {
  const whole = await viewBox(page);
  const changed = async (what, act) => {
    const before = await viewBox(page);
    await act();
    assert.notEqual(await viewBox(page), before, what);
  };
  await changed("button +", () => page.click("[data-zoom=in]"));
  const view = page.locator("#view");
  await view.focus();
  for (const key of ["+", "-", "+", "ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"]) {
    await changed(`key ${key}`, () => page.keyboard.press(key));
  }
  const box = await view.boundingBox();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await changed("wheel", () => page.mouse.wheel(0, -300));
  await changed("drag", async () => {
    await page.mouse.down();
    await page.mouse.move(x + 60, y + 40, { steps: 4 });
    await page.mouse.up();
  });
  assert.equal(await page.locator("#view .moving").count(), 0);
  await changed("pinch", () => page.evaluate(([x, y]) => {
    const view = document.getElementById("view");
    const finger = (type, pointerId, dx) =>
      view.dispatchEvent(new PointerEvent(type, { pointerId, button: 0, clientX: x + dx, clientY: y, bubbles: true }));
    for (const [id, dx] of [[11, -20], [12, 20]]) finger("pointerdown", id, dx);
    // No pointer of the machine stands behind these two, so none can be captured.
    view.setPointerCapture = () => {};
    for (const [id, dx] of [[11, -60], [12, 60]]) finger("pointermove", id, dx);
    for (const [id, dx] of [[11, -60], [12, 60]]) finger("pointerup", id, dx);
  }, [x, y]));
  await page.click("[data-zoom=all]");
  assert.equal(await viewBox(page), (whole ?? "").split(" ").map((v) => Number(v).toFixed(3)).join(" "));
}

async function choosing(page, panel) {
  // By the middle of the rail on the plan.
  const rail = page.locator(`#view .own [data-kind=panel][data-object="${panel}"]`).first();
  const box = await rail.boundingBox();
  await page.mouse.click(box.x + box.width / 2, box.y + box.height / 2);
  assert.ok(await isChosen(page, `#panel-${panel}`), `the card of ${panel} follows the plan`);
  assert.match(await page.textContent("#chosen"), new RegExp(`Panel ${panel}\\b`));
  // The reverse, with another card.
  const other = await page.locator(".card").last().getAttribute("data-object");
  await page.locator(`#panel-${other} .show`).click();
  assert.ok(await isChosen(page, `#panel-${other}`) && !(await isChosen(page, `#panel-${panel}`)));
  const onPlan = page.locator(`#view .own [data-kind=panel][data-object="${other}"]`).first();
  assert.ok(await onPlan.evaluate((e) => e.classList.contains("chosen")), "the plan follows the card");
  // A post by the keyboard, and its row in the list.
  await page.locator("#view .own [data-kind=post][tabindex]").first().focus();
  await page.keyboard.press("Enter");
  const post = await page.locator("#view .own [data-kind=post].chosen").first().getAttribute("data-object");
  assert.ok(await isChosen(page, `tr[data-kind=post][data-object="${post}"]`), `the row of ${post}`);
  assert.match(await page.textContent("#chosen"), new RegExp(`Post ${post}\\b`));
  // A finding, and the panel that it is about, where there is one.
  const finding = page.locator(".finding[data-panel]").first();
  if (await finding.count() === 0) {
    return 0;
  }
  await finding.locator("button").click();
  const about = await finding.getAttribute("data-panel");
  assert.ok(await page.locator(`#panel-${about}`).evaluate((e) => e.classList.contains("linked")), "the panel of a finding");
  return 1;
}

async function filters(page, panels) {
  const cards = page.locator(".card:visible");
  await page.fill("#search", "no such thing anywhere");
  assert.equal(await cards.count(), 0);
  assert.match(await page.textContent("#found"), /^0 of/);
  await page.fill("#search", "wall to");
  const some = await cards.count();
  assert.ok(some > 0 && some < panels, `${some} of ${panels}`);
  await page.fill("#search", "");
  assert.equal(await cards.count(), panels);
  const runs = await page.locator("#run option").count() - 1;
  let sum = 0;
  for (let run = 1; run <= runs; run += 1) {
    await page.selectOption("#run", String(run));
    sum += await cards.count();
  }
  assert.equal(sum, panels, "each panel is in one run");
  await page.selectOption("#run", "");
}

async function remembers(page, file, panels) {
  await page.locator("[data-step=cut]").first().check();
  await page.locator("[data-step=installed]").nth(1).check();
  assert.equal(await page.textContent("#count-cut"), `1 of ${panels}`);
  await page.reload();
  assert.ok(await page.locator("[data-step=cut]").first().isChecked());
  assert.ok(!(await page.locator("[data-step=cut]").nth(1).isChecked()));
  assert.equal(await page.textContent("#count-installed"), `1 of ${panels}`);
  // A plan with another hash has ticks of its own.
  const other = join(profile, "other.html");
  await writeFile(other, (await readFile(file, "utf8")).replace(/plumbrail:[0-9a-f]{8}/, "plumbrail:00000000"));
  const { page: second, wrong } = await openFile(other);
  assert.equal(await second.textContent("#count-cut"), `0 of ${panels}`);
  // Without storage it ticks all the same, and says that it will forget.
  await second.addInitScript(() => Object.defineProperty(window, "localStorage", { get() { throw new Error("no"); } }));
  await second.reload();
  await second.locator("[data-step=cut]").first().check();
  assert.equal(await second.textContent("#count-cut"), `1 of ${panels}`);
  assert.match(await second.textContent("#memory"), /keeps no ticks/);
  assert.deepEqual(wrong, []);
  await second.close();
}

async function units(page) {
  const mark = page.locator(".marks li").first();
  const own = await mark.innerText();
  await page.selectOption("#unit", "alt");
  const alt = await mark.innerText();
  assert.notEqual(alt, own);
  const [inch, mm] = own.includes('"') ? [own, alt] : [alt, own];
  assert.match(inch, /^[\d/-]+"$/);
  assert.match(mm, /^\d+(\.\d)?$/);
  assert.ok(await page.locator(".rounded.alt").isVisible(), "it says in which unit marks were rounded");
  assert.ok(await page.locator("#view .alt svg").isVisible() && !(await page.locator("#view .own svg").isVisible()));
  await page.selectOption("#unit", "own");
  assert.equal(await mark.innerText(), own);
}

async function colours(page) {
  const ground = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const light = await ground();
  await page.selectOption("#theme", "dark");
  const dark = await ground();
  assert.notEqual(dark, light);
  await faults(page, "dark");
  await page.selectOption("#theme", "light");
  await page.emulateMedia({ colorScheme: "dark" });
  assert.equal(await ground(), light, "what was chosen wins over the device");
  await page.selectOption("#theme", "");
  assert.equal(await ground(), dark, "the device decides");
  await page.emulateMedia({ colorScheme: "light" });
}

async function phone(page) {
  await page.setViewportSize({ width: 360, height: 740 });
  for (const unit of ["alt", "own"]) {
    await page.selectOption("#unit", unit);
    await fitsPhone(page);
  }
  await faults(page, "phone");
  await page.setViewportSize(desk);
}

/** Pages of the PDF: at least one a panel, none blank, and the cautions on each. */
async function prints(page, panels) {
  for (const format of ["Letter", "A4"]) {
    const pdf = await page.pdf({ format });
    const path = join(profile, `${format}.pdf`);
    await writeFile(path, pdf);
    const text = execFileSync("pdftotext", ["-layout", path, "-"], { encoding: "utf8" });
    const pages = text.split("\f").slice(0, -1);
    const cards = pages.filter((p) => /^\s*S\d+ .*\n*.*Run \d/m.test(p));
    assert.equal(cards.length, panels, "each panel begins a page");
    const first = pages.indexOf(cards[0]);
    const stock = pages.findIndex((p) => /^\s*Use of stock/.test(p));
    assert.equal(stock - first, panels, "each panel has one page");
    for (const [i, page] of pages.entries()) {
      assert.ok(page.trim().length > 400, `page ${i + 1} of ${pages.length} is blank: ${page.trim()}`);
      assert.match(page, /Measure\s+every opening on site/, `page ${i + 1} has no cautions`);
    }
    for (const mark of await page.locator(".marks li .own, .marks li:not(:has(span))").allTextContents()) {
      assert.ok(text.includes(mark), `${mark} is not printed`);
    }
    console.log(`  ${format}: ${pages.length} pages for ${panels} panels`);
  }
}

try {
  const files = process.argv.slice(2).map((f) => resolve(f));
  assert.ok(files.length > 0, "name a report.html");
  let linked = 0;
  for (const file of files) {
    const started = Date.now();
    const { page, wrong } = await openFile(file);
    const loaded = Date.now() - started;
    const panels = await page.locator(".card").count();
    console.log(`${file}: ${(await readFile(file)).length} bytes, ${panels} panels, open after ${loaded} ms`);
    assert.ok(panels > 0);
    await panAndZoom(page);
    linked += await choosing(page, await page.locator(".card").first().getAttribute("data-object"));
    await filters(page, panels);
    await remembers(page, file, panels);
    await units(page);
    await faults(page, "light");
    await colours(page);
    await phone(page);
    await prints(page, panels);
    assert.deepEqual(wrong, []);
    await page.close();
  }
  assert.ok(linked > 0, "name a report with a finding at a panel, too");
  console.log(`OK ${files.length} reports`);
} finally {
  await close();
}
