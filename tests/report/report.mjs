// Opens a report from disk in a browser and works it as people do: by keys, by pointer, on paper, in both colour schemes.
// Arguments: the report, a folder for pictures. Prints a line for each thing that holds, and ends with the first that does not.
import assert from "node:assert/strict";
import { mkdtempSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const [file, pictures] = process.argv.slice(2);
const address = pathToFileURL(file).href;
const axe = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
  "--disable-sync",
];
const profile = mkdtempSync(join(tmpdir(), "deadship-report-"));
const browser = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", headless: true, args: FLAGS,
  viewport: { width: 1280, height: 900 },
});

// A page that notes everything that it must not do.
async function open(fragment = "", change = {}) {
  const page = await browser.newPage();
  if (change.viewport) {
    await page.setViewportSize(change.viewport);
  }
  await page.emulateMedia({ colorScheme: change.scheme ?? "light", reducedMotion: "reduce" });
  page.wrongs = [];
  page.on("request", (request) => {
    if (request.url().split("#")[0] !== address) {
      page.wrongs.push(`asked for ${request.url()}`);
    }
  });
  page.on("console", (message) => {
    if (message.type() === "error" || message.type() === "warning") {
      page.wrongs.push(`said ${message.text()}`);
    }
  });
  page.on("pageerror", (error) => page.wrongs.push(`failed: ${error.message}`));
  await page.goto(address + fragment);
  await page.locator("#lanes svg").waitFor();
  return page;
}

async function done(page) {
  assert.deepEqual(page.wrongs, []);
  await page.close();
}

const cursor = (page) => page.locator("#lanes").getAttribute("aria-valuenow").then(Number);
const field = (page, name) => new URLSearchParams(new URL(page.url()).hash.slice(1)).get(name);
// The address follows a moment later.
const settled = (page, name, test) =>
  page.waitForFunction(
    ([name, text]) => (new URLSearchParams(location.hash.slice(1)).get(name) ?? "") !== text,
    [name, test],
  );

async function keys() {
  const page = await open("#t=2:00");
  await page.locator("#lanes").focus();
  const start = await cursor(page);
  assert.equal(start, 2400, "the address puts the cursor");
  const after = async (key) => {
    await page.keyboard.press(key);
    return cursor(page);
  };
  assert.ok((await after("ArrowRight")) > start);
  assert.equal(await after("ArrowLeft"), start);
  assert.equal(await after("Shift+ArrowRight"), start + 1);
  const last = await after("End");
  assert.equal(String(last), await page.locator("#lanes").getAttribute("aria-valuemax"));
  assert.ok((await after("PageUp")) < last);
  assert.equal(await after("Home"), 0);
  const next = await after("n");
  assert.ok(next > 0, "n goes to an event");
  const further = await after("n");
  assert.ok(further > next, "and on");
  assert.equal(await after("p"), next, "p goes back");
  for (const key of ["+", "+", "]", "c"]) {
    await page.keyboard.press(key);
  }
  await settled(page, "by", "");
  assert.ok(field(page, "t") && field(page, "from") && field(page, "to"), page.url());
  await page.locator("input[name=lane]").nth(2).uncheck();
  await settled(page, "lanes", "");
  const before = await state(page);
  await page.reload();
  await page.locator("#lanes svg").waitFor();
  assert.deepEqual(await state(page), before, "a reload shows the same");
  const link = page.url();
  await done(page);
  const other = await open(new URL(link).hash);
  assert.deepEqual(await state(other), before, "a link shows the same");
  await other.locator("#lanes").focus();
  await other.keyboard.press("0");
  await other.waitForFunction(() => !location.hash.includes("from="));
  await done(other);
}

function state(page) {
  return page.evaluate(() => ({
    cursor: document.getElementById("lanes").getAttribute("aria-valuenow"),
    now: document.getElementById("now").textContent,
    lanes: Array.from(document.querySelectorAll("#lanes .lane-name"), (name) => name.textContent),
    times: Array.from(document.querySelectorAll("#lanes .time"), (time) => time.textContent),
    courses: Array.from(document.querySelectorAll("#courses .course-name"), (name) => name.textContent),
    group: document.querySelector("input[name=group]:checked").value,
    rows: document.querySelectorAll("#events tr[data-t]:not([hidden])").length,
    parts: document.querySelectorAll("#events tr.stage:not([hidden])").length,
  }));
}

// An address that says nothing that can be read opens the report all the same.
async function nonsense() {
  for (const fragment of ["#t=x&from=9:99&to=&lanes=%&trends=%E0%A4&by=chance&more", "#e999999", "#from=40:00&to=1:00", "#=&=&"]) {
    const page = await open(fragment);
    assert.ok(Number.isFinite(await cursor(page)), fragment);
    assert.ok((await page.locator("#lanes svg .time").count()) > 1, fragment);
    await done(page);
  }
}

// What is dragged across is what is shown, in the lanes and in the courses.
async function pointer() {
  const page = await open();
  for (const place of ["#lanes", "#courses .u-over"]) {
    const whole = (await state(page)).times;
    await page.locator(place).first().scrollIntoViewIfNeeded();
    const box = await page.locator(place).first().boundingBox();
    const y = box.y + box.height / 2;
    await page.mouse.move(box.x + box.width * 0.4, y);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.6, y, { steps: 4 });
    await page.mouse.up();
    assert.notDeepEqual((await state(page)).times, whole, `${place} zooms`);
    await settled(page, "from", "");
    await page.locator("[data-do=whole]").click();
    assert.deepEqual((await state(page)).times, whole);
    await page.mouse.move(box.x + box.width / 2, y);
  }
  const lanes = await page.locator("#lanes").boundingBox();
  await page.mouse.click(lanes.x + lanes.width / 2, lanes.y + lanes.height / 2);
  const middle = await cursor(page);
  const last = Number(await page.locator("#lanes").getAttribute("aria-valuemax"));
  assert.ok(Math.abs(middle - last / 2) < last / 8, "a click puts the cursor");
  const seq = await page.locator("#figures a.event").first().getAttribute("href");
  await page.locator("#figures a.event").first().click();
  const tick = await page.locator(`tr${seq}`).getAttribute("data-t");
  assert.equal(String(await cursor(page)), tick, "an event that is named is a way to its time");
  await done(page);
}

// Whatever is drawn stands there in words as well.
async function words() {
  const page = await open();
  const drawn = await page.locator("[data-moment]").count();
  assert.ok(drawn > 0, "there is a moment with a chart");
  assert.equal(await page.locator("[data-moment] + details table").count(), drawn, "each chart of a moment has its table");
  assert.ok((await page.locator("#events tr[data-t]").count()) > 50, "the lanes have their list");
  assert.ok((await page.locator("#timeline table").count()) >= 2, "the courses have their table");
  const lost = await page.evaluate(() =>
    Array.from(document.querySelectorAll("a.event"), (way) => way.getAttribute("href"))
      .filter((place) => !document.querySelector(`tr${place}`)));
  assert.deepEqual(lost, [], "every event that is named has its row");
  assert.ok((await page.locator(".why li").count()) > 5, "it is said why the moments came");
  const shown = await page.locator("#lanes svg .sign").count();
  assert.ok(shown > 10, `${shown} signs are drawn`);
  const levels = await page.evaluate(() =>
    Array.from(document.querySelectorAll("h1,h2,h3,h4,h5,h6"), (heading) => Number(heading.tagName[1])));
  levels.forEach((level, at) => assert.ok(at === 0 ? level === 1 : level <= levels[at - 1] + 1, `heading ${at}`));
  for (const key of await page.locator("#keys kbd").allTextContents()) {
    assert.ok(key.length > 0);
  }
  await done(page);
}

// Expert and idle crew stand beside the run, named, and can be taken out of the trends.
async function references() {
  const page = await open("#t=10:00");
  const samples = page.locator("#courses .reference");
  const named = await samples.allTextContents();
  assert.ok(named.some((text) => text.includes("expert")) && named.some((text) => text.includes("idle crew")), named.join());
  assert.ok(named.every((text) => /\d/.test(text)), `each says what stood at the cursor: ${named.join()}`);
  const broken = await page.locator("#courses .reference line").evaluateAll((lines) =>
    lines.map((line) => line.getAttribute("stroke-dasharray")));
  assert.equal(new Set(broken).size, 2, "they are told apart by more than colour");
  const ink = () => page.locator("#courses canvas").first().evaluate((canvas) => canvas.toDataURL());
  const both = await ink();
  await page.locator("input[name=reference]").nth(1).uncheck();
  await settled(page, "beside", "");
  assert.equal(field(page, "beside"), "expert");
  assert.equal(await samples.count(), named.length / 2);
  const one = await ink();
  await page.reload();
  await page.locator("#lanes svg").waitFor();
  assert.equal(await samples.count(), named.length / 2, "a reload shows the same");
  await page.locator("#lanes").focus();
  await page.keyboard.press("r");
  assert.equal(await samples.count(), 0);
  const none = await ink();
  assert.equal(new Set([both, one, none]).size, 3, "each of them is drawn");
  await page.keyboard.press("r");
  assert.equal(await samples.count(), named.length);
  assert.ok((await page.locator("#references tbody tr").count()) > 20, "they stand side by side");
  await done(page);
}

// On paper: black on white whatever the screen was, nothing to press, courses as wide as the sheet.
async function paper() {
  const page = await open("", { scheme: "dark" });
  await page.emulateMedia({ media: "print", colorScheme: "dark" });
  assert.equal(await page.evaluate(() => getComputedStyle(document.body).backgroundColor), "rgb(255, 255, 255)");
  assert.equal(await page.locator(".tools").isVisible(), false);
  assert.equal(await page.locator(".form").isVisible(), true);
  const sheets = await page.pdf({ format: "A4" });
  assert.equal(sheets.subarray(0, 5).toString(), "%PDF-");
  const pages = sheets.toString("latin1").match(/\/Type\s*\/Page\b/g)?.length ?? 0;
  assert.ok(pages >= 2 && pages <= 12, `${pages} sheets`);
  await done(page);
}

async function withoutBarriers() {
  for (const scheme of ["light", "dark"]) {
    for (const width of [1280, 390]) {
      const page = await open("", { scheme, viewport: { width, height: 900 } });
      await page.evaluate(() => document.querySelectorAll("details").forEach((part) => { part.open = true; }));
      // The page forbids scripts from elsewhere; the checker is put in by the browser itself.
      await page.evaluate((await import("node:fs")).readFileSync(axe, "utf8"));
      const found = await page.evaluate(() => globalThis.axe.run());
      const bad = found.violations.filter((one) => one.impact === "serious" || one.impact === "critical");
      const told = bad.map((one) => `${one.id}: ${one.nodes.slice(0, 3).map((node) => node.html).join(" | ")}`);
      assert.deepEqual(told, [], `${scheme}, ${width} wide`);
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(over <= 0, `${scheme}, ${width} wide: the page is ${over} px too wide`);
      await done(page);
    }
  }
}

async function pictured() {
  for (const [name, width, scheme] of [["report", 1280, "light"], ["report-narrow", 390, "dark"]]) {
    const page = await open("#t=33:21.3", { scheme, viewport: { width, height: 900 } });
    await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
    await page.locator("#timeline").screenshot({ path: join(pictures, `${name}-timeline.png`) });
    await done(page);
  }
}

const checks = {
  "keys move the cursor, and the address brings it back": keys,
  "an address that cannot be read does no harm": nonsense,
  "dragging looks closer, clicking puts the cursor": pointer,
  "expert and idle crew stand beside the run": references,
  "every chart stands there in words": words,
  "it can be printed": paper,
  "nothing serious stands in anybody's way, in either colour scheme": withoutBarriers,
  "pictures are taken": pictured,
};
let failed = 0;
try {
  for (const [what, check] of Object.entries(checks)) {
    try {
      await check();
      console.log(`ok    ${what}`);
    } catch (error) {
      failed += 1;
      console.log(`FAILS ${what}\n${error.stack ?? error}`);
    }
  }
} finally {
  await browser.close();
  rmSync(profile, { recursive: true, force: true });
}
process.exitCode = failed === 0 ? 0 : 1;
