// What the tests of our pages share: Debian's Chromium, a page whose faults are gathered, and axe-core's rules.
import assert from "node:assert/strict";
import { mkdtemp, readFile, rm } from "node:fs/promises";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const flags = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
];
export const desk = { width: 1400, height: 900 };

/** Chromium with a profile of its own, which goes with `close`. */
export async function browser() {
  const profile = await mkdtemp(join(tmpdir(), "page-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: "/usr/bin/chromium", headless: true, args: flags, viewport: desk, hasTouch: true,
  });
  const close = async () => {
    await context.close();
    await rm(profile, { recursive: true, force: true });
  };
  return { context, profile, close };
}

/** A page at an address, with everything that went wrong on it: requests may go to `home` alone. */
export async function open(context, address, home) {
  const page = await context.newPage();
  const wrong = [];
  page.on("console", (m) => ["error", "warning"].includes(m.type()) && wrong.push(`console: ${m.text()}`));
  page.on("pageerror", (e) => wrong.push(`error: ${e.message}`));
  page.on("request", (r) => r.url().startsWith(home) || wrong.push(`request: ${r.url()}`));
  await page.goto(address);
  return { page, wrong };
}

/** No serious or critical fault by axe-core's rules. `page.evaluate` is not held to the page's policy. */
export async function faults(page, where) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  const bad = violations.filter((v) => ["serious", "critical"].includes(v.impact));
  const told = bad.map((v) => `${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.target.join(" ")).join(", ")}`);
  assert.deepEqual(told, [], where);
}

/** On a phone nothing scrolls sideways, and nothing to touch is smaller than a finger. */
export async function fitsPhone(page) {
  const wide = await page.evaluate(() => [document.documentElement.scrollWidth, document.body.scrollWidth]);
  assert.ok(Math.max(...wide) <= 360, `scrolls sideways: ${wide}`);
  const small = await page.evaluate(() => Array.from(document.querySelectorAll("button, select, input:not([type=checkbox]), .ticks label"))
    .filter((e) => e.getClientRects().length > 0)
    .map((e) => [e.textContent.trim().slice(0, 20) || e.id, e.getBoundingClientRect()])
    .filter(([, r]) => r.width < 44 || r.height < 44)
    .map(([name, r]) => `${name} ${r.width} x ${r.height}`));
  assert.deepEqual(small, [], "smaller than a finger");
}
