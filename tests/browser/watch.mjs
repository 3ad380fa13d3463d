// Starts `plumbrail watch --serve` on a copy of the demo plan, and does in Debian's Chromium what a person does who saves the
// plan again and again and tries other settings. Run from this folder after `npm ci`:
//   node watch.mjs PROGRAM PLAN.dxf
// Ends with `OK ...`, or with what is wrong.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdtemp, readFile, rename, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { createInterface } from "node:readline";
import { browser, desk, faults, fitsPhone, open } from "./page.mjs";

const [program, source] = process.argv.slice(2).map((p) => resolve(p));
const folder = await mkdtemp(join(tmpdir(), "watch-"));
const plan = join(folder, "deck.dxf");
const original = await readFile(source, "latin1");
await writeFile(plan, original, "latin1");
const watch = spawn(program, ["watch", plan, "--serve"], { stdio: ["ignore", "pipe", "pipe"] });
let said = "";
watch.stderr.on("data", (text) => { said += text; });
const lines = createInterface({ input: watch.stdout });
const address = await new Promise((done, failed) => {
  lines.once("line", done);
  watch.once("exit", () => failed(new Error(`ended: ${said}`)));
});
const { context, close } = await browser();

const number = (page) => page.locator("#view").getAttribute("data-number").then(Number);
const state = (page, wanted) => page.waitForFunction((w) => document.getElementById("standing").dataset.state === w, wanted);
const shown = (page, n) => page.waitForFunction((n) => Number(document.getElementById("view").dataset.number) >= n, n, { polling: 4 });

/** The plan with the outer corners of the deck further out: another length of rail at its sides. */
function moved(by) {
  const lines = original.split(/\r?\n/);
  const layer = lines.findIndex((line, i) => line === "A-DECK-EDGE" && lines[i + 2] === "AcDbPolyline");
  const end = lines.findIndex((line, i) => i > layer && line === "  0");
  const ys = lines.map((line, i) => i).filter((i) => i > layer && i < end && lines[i - 1] === " 20");
  const lowest = Math.min(...ys.map((i) => Number(lines[i])));
  const outer = ys.filter((i) => Number(lines[i]) === lowest);
  assert.ok(outer.length > 0);
  for (const i of outer) lines[i] = String(lowest - by);
  return lines.join("\n");
}

/** Fifty saves, half of them in place and half by a new file that is renamed; each is shown, and is another plan. */
async function saves(page) {
  const met = new Set([await page.innerHTML("#view")]);
  const times = [];
  for (let save = 1; save <= 50; save += 1) {
    const before = await number(page);
    const text = moved(save * 0.25);
    const began = performance.now();
    if (save % 2 === 0) await writeFile(plan, text, "latin1");
    else {
      await writeFile(`${plan}.new`, text, "latin1");
      await rename(`${plan}.new`, plan);
    }
    await shown(page, before + 1);
    times.push(performance.now() - began);
    await state(page, "shown");
    const html = await page.innerHTML("#view");
    assert.ok(!met.has(html), `save ${save} shows an older plan`);
    met.add(html);
  }
  times.sort((a, b) => a - b);
  console.log(`  50 saves shown; from save to page ${times[25].toFixed(0)} ms in the middle, ${times[49].toFixed(0)} ms at most`);
}

/** A save of rubbish, one that is cut off, and no file at all keep the last good layout, with a message. */
async function rubbish(page) {
  const good = await page.innerHTML("#view");
  const bad = { rubbish: "no drawing at all\n".repeat(50), "cut off": original.slice(0, original.length / 2), empty: "" };
  for (const [what, text] of Object.entries(bad)) {
    await writeFile(plan, text, "latin1");
    await state(page, "waiting");
    await state(page, "kept");
    assert.equal(await page.innerHTML("#view"), good, what);
    assert.match(await page.textContent("#standing"), /not shown: .+ Shown is the last one/, what);
    assert.equal(await page.locator("#view").getAttribute("data-old"), "true");
  }
  await rm(plan);
  await page.waitForFunction(() => /cannot read/.test(document.getElementById("standing").textContent));
  // A save that comes in pieces is waited for.
  const before = await number(page);
  const half = Math.floor(original.length / 2);
  await writeFile(plan, original.slice(0, half), "latin1");
  await state(page, "waiting");
  await writeFile(plan, original, "latin1");
  await shown(page, before + 1);
  await state(page, "shown");
  assert.equal(await page.locator("#view").getAttribute("data-old"), "false");
}

/** The form shows other settings at once, and writes them only when it is asked to. */
async function settings(page) {
  const job = join(folder, "deck.job.toml");
  const written = () => readFile(job, "utf8").catch(() => null);
  const other = async (what, act) => {
    const [before, html] = [await number(page), await page.innerHTML("#view")];
    await act();
    await shown(page, before + 1);
    assert.ok(await page.innerHTML("#view") !== html, what);
  };
  const output = join(folder, "deck-rail", "plan.svg");
  await page.waitForFunction(() => document.querySelectorAll("#files li").length > 0);
  const onDisk = await readFile(output, "utf8");
  await other("inset", () => page.fill("[name=inset]", "6in"));
  await other("system", () => page.selectOption("[name=system]", "metal-42"));
  await page.waitForFunction(() => document.querySelectorAll("#files li").length > 0);
  assert.equal(await readFile(output, "utf8"), onDisk, "a preview is not written into the folder");
  assert.equal(await written(), null);
  assert.equal(await page.locator(".changed").count(), 2);
  // What makes no sense is told, and what was there stays.
  const html = await page.innerHTML("#view");
  for (const [text, why] of [["six", /not a length/], ["-1in", /negative/]]) {
    await page.fill("[name=inset]", text);
    await page.waitForFunction(() => document.getElementById("settings-told").classList.contains("wrong"));
    assert.match(await page.textContent("#settings-told"), why);
    assert.equal(await page.innerHTML("#view"), html);
    await page.fill("[name=inset]", "6in");
    await page.waitForFunction(() => !document.getElementById("settings-told").classList.contains("wrong"));
  }
  await page.click("#write");
  await page.waitForFunction(() => /written to/.test(document.getElementById("settings-told").textContent));
  assert.equal(await written(), 'system = "metal-42"\ninset = "6in"\n');
  await page.waitForFunction(() => document.querySelectorAll(".changed").length === 0);
  await page.waitForFunction(() => document.querySelectorAll("#files li").length > 0);
  assert.equal(await page.inputValue("[name=inset]"), "6in");
  assert.notEqual(await readFile(output, "utf8"), onDisk, "now it is");
  // The job file is watched, too; and the form goes back to it.
  await other("the job file", () => writeFile(job, 'inset = "3in"\nbays = "cost"\n'));
  assert.equal(await page.inputValue("[name=bays]"), "cost");
  await other("inset again", () => page.fill("[name=inset]", "8in"));
  await page.selectOption("[name=balusters]", "even");
  await page.waitForFunction(() => document.querySelectorAll(".changed").length === 2);
  await other("back", () => page.click("#back"));
  assert.equal(await page.locator(".changed").count(), 0);
  assert.equal(await written(), 'inset = "3in"\nbays = "cost"\n');
}

/** Every file can be downloaded, and is what stands in the folder. */
async function downloads(page) {
  await page.waitForFunction(() => document.querySelectorAll("#files li").length > 0);
  const names = await page.locator("#files a").allTextContents();
  assert.ok(names.length > 20 && names.includes("deck.rail.dxf") && names.includes("report.html"), `${names}`);
  for (const name of ["deck.rail.dxf", "report.html", "panels/S1.svg"]) {
    const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#files a", { hasText: name }).first().click()]);
    assert.deepEqual(await readFile(await download.path()), await readFile(join(folder, "deck-rail", name)), name);
    assert.equal(download.suggestedFilename(), name.split("/").pop());
  }
  // A browser keeps no more than some files in a row; the rest is asked for in the same way.
  for (const link of await page.locator("#files a").all()) {
    const bytes = await link.evaluate(async (a) => Array.from(new Uint8Array(await (await fetch(a.href)).arrayBuffer())));
    const name = await link.textContent();
    assert.deepEqual(Buffer.from(bytes), await readFile(join(folder, "deck-rail", name)), name);
  }
  console.log(`  ${names.length} files downloaded`);
}

async function looks(page) {
  const box = () => page.locator("#view svg").getAttribute("viewBox");
  const whole = await box();
  await page.click("[data-zoom=in]");
  assert.notEqual(await box(), whole);
  // A save does not take away where one looked.
  const [zoomed, before] = [await box(), await number(page)];
  await writeFile(plan, moved(0.1), "latin1");
  await shown(page, before + 1);
  assert.equal(await box(), zoomed);
  await page.click("[data-zoom=all]");
  await page.locator("#view [data-kind=panel][tabindex]").first().focus();
  await page.keyboard.press("Enter");
  assert.match(await page.textContent("#chosen"), /^Panel S\d+$/);
  await page.locator(".finding button").first().click();
  assert.match(await page.textContent("#chosen"), /^Finding 1: ./);
  await faults(page, "light");
  await page.emulateMedia({ colorScheme: "dark" });
  await faults(page, "dark");
  await page.emulateMedia({ colorScheme: "light" });
  await page.setViewportSize({ width: 360, height: 740 });
  await fitsPhone(page);
  await faults(page, "phone");
  await page.setViewportSize(desk);
}

try {
  const { page, wrong } = await open(context, address, address);
  // Until the first answer there is nothing to choose and nothing to press.
  assert.match(await (await fetch(page.url())).text(), /<fieldset id="ready" disabled>/);
  await shown(page, 1);
  assert.equal(await page.locator("#ready").isEnabled(), true);
  await state(page, "shown");
  await looks(page);
  await saves(page);
  await rubbish(page);
  await downloads(page);
  await settings(page);
  if (process.env.PICTURE) await page.screenshot({ path: process.env.PICTURE, fullPage: true });
  // Only what the page was refused, with a message, stands in the browser's log.
  assert.deepEqual(wrong.filter((w) => !/status of 422/.test(w)), []);
  watch.kill();
  await state(page, "gone");
  console.log("OK watch");
} finally {
  watch.kill();
  await close();
  await rm(folder, { recursive: true, force: true });
}
