// What the tests share: a browser, a sheet opened from a file, taps, and the program to compare with.

import { chromium } from "playwright-core";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { gunzipSync } from "node:zlib";
import { join } from "node:path";

export const { SHEETS, PROGRAM, BROWSER, EXAMPLES } = process.env;
const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync"];

export const browser = await chromium.launch({ executablePath: BROWSER, args: FLAGS });
export const sheetPath = (checklist) => join(SHEETS, `${checklist}.html`);

/** Opens a sheet as a phone would, from a file, and fails the test on any error or outside request. */
export async function open(t, { checklist = "pasture-herd", width = 375, height = 812, before, context, ...options } = {}) {
  const own = context ?? await browser.newContext({ viewport: { width, height }, reducedMotion: "reduce", acceptDownloads: true, ...options });
  if (!context) t.after(() => own.close());
  const page = await own.newPage();
  const wrong = [];
  page.on("pageerror", (error) => wrong.push(error.stack));
  page.on("console", (message) => message.type() === "error" && wrong.push(message.text()));
  page.on("request", (request) => /^(file|blob|data|about):/.test(request.url()) || wrong.push(`request to ${request.url()}`));
  if (before) await page.addInitScript(before);
  await page.goto(`file://${sheetPath(checklist)}`);
  await page.waitForSelector("html[data-ready]");
  return { page, context: own, wrong };
}

export const item = (page, id) => page.locator(`#i-${id}`);

export async function addStretch(page, name, length, { passes, width, share } = {}) {
  await page.click("#stretches ~ [data-do=add-segment]");
  await page.fill("#segment [name=name]", name);
  await page.fill("#segment [name=length_m]", length);
  if (width) await page.fill("#segment [name=width_m]", width);
  if (passes) await page.fill("#segment [name=passes_per_day]", passes);
  if (share) await page.fill("#segment [name=share]", share);
  await page.click("#segment [type=submit]");
}

/** Answers every cell from the one numbered `from` to before `to`, by taps, differently each time. */
export async function answerCells(page, from = 0, to = Infinity) {
  const cells = await page.locator("main [data-cell]").all();
  for (const [at, cell] of cells.entries()) {
    if (at < from || at >= to) continue;
    if (at % 11 === 10) {
      await cell.locator(".skip summary").click();
      await cell.locator("[data-do=reason]").nth(at % 3).click();
    } else if (await cell.locator(".choice").count()) {
      await cell.locator(".choice").nth(at % await cell.locator(".choice").count()).click();
    } else if (await cell.locator("[data-do=yes]").count()) {
      for (let tap = 0; tap <= at % 4; tap += 1) await cell.locator("[data-do=yes]").click();
      for (let tap = 0; tap <= at % 3; tap += 1) await cell.locator("[data-do=no]").click();
    } else if (await cell.locator("[data-field=over]").count()) {
      for (let tap = 0; tap <= at % 5; tap += 1) await cell.locator("[data-to=count].more").click();
      await cell.locator("[data-field=over]").fill("2,5");
    } else {
      await cell.locator("[data-field=value]").fill(String(at + 1));
    }
  }
}

/** Lets the debounced score settle. */
export const settle = (page) => page.waitForTimeout(700);

export async function saved(page, button = "#end [data-do=save]") {
  const [download] = await Promise.all([page.waitForEvent("download"), page.click(button)]);
  const path = join(SHEETS, `${Math.random().toString(36).slice(2)}-${download.suggestedFilename()}`);
  await download.saveAs(path);
  return path;
}

export const run = (...parameters) => execFileSync(PROGRAM, parameters, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });
export const scored = (path) => JSON.parse(run("score", path, "--as", "json", "--draws", "1024"));

/** The engine out of a sheet, run by node: the very module that the page runs. */
export async function engineOf(checklist) {
  const packed = /<script type="application\/octet-stream" id="engine">([^<]*)</.exec(readFileSync(sheetPath(checklist), "utf8"))[1];
  const bytes = gunzipSync(Buffer.from(packed, "base64"));
  const { exports } = (await WebAssembly.instantiate(bytes, {})).instance;
  const ask = (question) => {
    const asked = Buffer.from(JSON.stringify(question));
    const at = exports.alloc(asked.length);
    Buffer.from(exports.memory.buffer).set(asked, at);
    const answer = exports.run();
    const length = Buffer.from(exports.memory.buffer).readUInt32LE(answer);
    const text = Buffer.from(exports.memory.buffer, answer + 4, length).toString();
    exports.dealloc();
    return JSON.parse(text);
  };
  return { bytes, ask };
}
