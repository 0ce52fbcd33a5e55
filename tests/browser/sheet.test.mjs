// The walk sheet in a real browser, against the program on the same records.

import assert from "node:assert/strict";
import { after, test } from "node:test";
import { copyFileSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";
import { EXAMPLES, SHEETS, addStretch, answerCells, browser, engineOf, item, open, run, saved, scored, settle, sheetPath } from "./helper.mjs";

after(() => browser.close());

const nameFarm = async (page, name = "Alder \"Reach\" No. 7: nö") => {
  await page.fill("[data-record=farm]", name);
  await page.fill("[data-record=cows]", "240");
};

test("a whole walk by taps, with the battery dead in the middle, scores as the program does", async (t) => {
  const { page, context, wrong } = await open(t);
  await nameFarm(page);
  await page.fill("[data-record=currency]", "eur");
  await addStretch(page, "Home lane", "320", { width: "4,5" });
  await addStretch(page, "River track", "900", { passes: "2", share: "60" });
  await answerCells(page, 0, 20);
  await item(page, "finding-lame").locator(".note summary").click();
  await item(page, "finding-lame").locator("textarea").fill("two of three: no\nthe \"book\" is new # not a comment");
  await page.close();

  const again = await open(t, { context });
  const { page: second } = again;
  assert.equal(await second.inputValue("[data-record=farm]"), "Alder \"Reach\" No. 7: nö");
  assert.match(await second.inputValue("#i-finding-lame textarea"), /"book"/);
  await answerCells(second, 20);
  await settle(second);

  const path = await saved(second);
  run("check", path);
  const native = scored(path);
  assert.equal(native.score.answered + new Set(native.skipped.map((skip) => skip.item)).size >= native.score.asked, true);
  assert.equal(await second.textContent("[data-score]"), String(Math.round(native.score.value)));

  await second.click("[data-do=results]");
  const shown = await second.locator("#results .ranked b").allTextContents();
  const titles = JSON.parse(await second.textContent("#sheet-data")).options;
  const stretch = { "home-lane": "Home lane", "river-track": "River track" };
  const expected = native.interventions.slice(0, 7).map(({ id }) => {
    const [option, segment] = id.split(":");
    return titles[option] + (segment ? ` (${stretch[segment]})` : "");
  });
  assert.deepEqual(shown, expected);

  const { ask } = await engineOf("pasture-herd");
  const answer = ask({ task: "score", checklist: "pasture-herd", name: basename(path), walk: readFileSync(path, "utf8"), draws: 1024 });
  assert.deepEqual(answer.score, native, "every number the same to the bit");
  run("report", path, "--for", "farmer", "--out", join(SHEETS, "report.html"));
  const { html } = ask({ task: "report", checklist: "pasture-herd", name: basename(path), walk: readFileSync(path, "utf8") });
  assert.equal(html, readFileSync(join(SHEETS, "report.html"), "utf8"), "the report the same to the letter");
  assert.deepEqual([...wrong, ...again.wrong], []);
});

test("a sheet in Spanish says everything in Spanish, takes a decimal comma and keeps the same record", async (t) => {
  const { page, wrong } = await open(t, { checklist: "self-check-es" });
  await nameFarm(page, "La Vega");
  await addStretch(page, "Camino de casa", "180,5", { width: "4,6" });
  assert.match(await page.textContent("#stretches"), /180,5 m de largo, 4,6 m de ancho, recorrido 4 veces al día por el 100 % del rebaño/);
  await answerCells(page);
  await item(page, "days-waited").locator("[data-field=value]").fill("1.200");
  assert.match(await item(page, "days-waited").locator(".complaint").textContent(), /no se puede leer como número/);
  await item(page, "days-waited").locator("[data-field=value]").fill("9,5");
  await settle(page);
  assert.match(await page.textContent("[data-score-words]"), /^de 100, /);
  await page.click("[data-do=results]");
  const shown = await page.locator("#results").innerText();
  assert.match(shown, /Lo que más debería ayudar/);
  assert.doesNotMatch(shown, /\b(the|of|and|cases|year|from)\b/);
  await page.click("#results form button");
  const path = await saved(page);
  run("check", path);
  assert.match(readFileSync(path, "utf8"), /"?days-waited"?: \{ value: 9\.5/);
  await page.setInputFiles("#file", path);
  await page.waitForFunction(() => document.querySelector("#load-result").textContent.includes("abierto como un recorrido aparte"));
  assert.deepEqual(wrong, []);
});

test("native and WebAssembly answers are one on every demo farm", async () => {
  for (const farm of ["01-heronsway", "02-tussock-flat", "04-heronsway-self-check"]) {
    const path = join(EXAMPLES, farm, "walk.yaml");
    const walk = readFileSync(path, "utf8");
    const checklist = /^walk: *"?([a-z-]+)/m.exec(walk)[1];
    if (/^cases:/m.test(walk)) continue; // the page can't see a file beside the record
    const { ask } = await engineOf("pasture-herd");
    const answer = ask({ task: "score", checklist, name: "walk.yaml", walk, draws: 1024 });
    assert.deepEqual(answer.score, scored(path), farm);
  }
});

test("a record written by hand opens, keeps all it holds, and is saved with the same meaning", async (t) => {
  const { page, wrong } = await open(t);
  const path = join(EXAMPLES, "01-heronsway", "walk.yaml");
  await page.setInputFiles("#file", path);
  await page.waitForFunction(() => document.querySelector("#load-result").textContent.includes("open as a walk of its own"));
  const copy = await saved(page);
  const meaning = ({ made_with, ...rest }) => rest;
  assert.deepEqual(meaning(scored(copy)), meaning(scored(path)));
  assert.deepEqual(wrong, []);
});

test("a broken record, one of another checklist, one of another version: told, nothing lost", async (t) => {
  const { page, wrong } = await open(t);
  await nameFarm(page, "Kept farm");
  await item(page, "finding-lame").locator(".choice").first().click();
  const write = (name, text) => { const path = join(SHEETS, name); writeFileSync(path, text); return path; };
  const told = async (path, words) => {
    await page.setInputFiles("#file", path);
    await page.waitForFunction((pattern) => new RegExp(pattern).test(document.querySelector("#load-result").textContent), words);
    assert.equal(await page.inputValue("[data-record=farm]"), "Kept farm");
    assert.equal(await item(page, "finding-lame").locator("input:checked").count(), 1);
  };
  await told(write("broken.yaml", "walk: pasture-herd\nherd: { cows: [3\n"), "not opened.*Line ");
  await told(write("words.yaml", "walk: pasture-herd\ndate: 2026-03-14\nfarm: { name: X }\nherd: { cows: many, system: pasture }\n"), "Line 4.*many");
  await told(write("other.yaml", "walk: self-check\ndate: 2026-03-14\nfarm: { name: X }\nherd: { cows: 9, system: pasture }\n"), "self-check");
  await told(write("picture.yaml", "\u0000\u0001GIF89a"), "not opened");
  const example = readFileSync(join(EXAMPLES, "02-tussock-flat", "walk.yaml"), "utf8");
  await page.setInputFiles("#file", write("older.yaml", `# walk sheet pasture-herd 2019.4\n${example}`));
  await page.waitForFunction(() => /version 2019\.4/.test(document.querySelector("#load-result").textContent));
  await page.click("[data-do=walks]");
  assert.match(await page.textContent("#walks"), /Kept farm/);
  assert.deepEqual(wrong, []);
});

test("walks of another checklist, another version and a spoilt one in the storage are listed, not lost", async (t) => {
  const before = () => {
    if (localStorage.length) return;
    const walk = (fields) => JSON.stringify({ id: "a", changed: "2025-01-01", segments: [], date: "2025-01-01", ...fields });
    localStorage.setItem("underfoot|pasture-herd|2025.9|a", walk({ checklist: "pasture-herd", version: "2025.9", farm: "Old version",
      answers: { "finding-lame": { choose: "when-seen" }, "gone-item": { value: "3" } } }));
    localStorage.setItem("underfoot|housed-herd|2026.1|a", walk({ checklist: "housed-herd", version: "2026.1", farm: "Other list", answers: {} }));
    localStorage.setItem("underfoot|pasture-herd|2026.1|z", "{ half a rec");
  };
  const { page, wrong } = await open(t, { before });
  await page.click("[data-do=walks]");
  const list = await page.textContent("#walks");
  assert.match(list, /Old version[^]*From version 2025\.9/);
  assert.match(list, /Other list[^]*housed-herd/);
  assert.match(list, /can’t be read any more/);
  await page.click("text=Carry its answers over");
  assert.match(await page.textContent("#load-result"), /gone-item/);
  assert.equal(await item(page, "finding-lame").locator("input:checked").inputValue(), "when-seen");
  assert.match(await page.textContent("#walks"), /From version 2025\.9/, "the old walk is still there");
  assert.deepEqual(wrong, []);
});

test("with the storage off the page says so, goes on, and saves to a file", async (t) => {
  const before = () => Object.defineProperty(window, "localStorage", { get() { throw new DOMException("denied", "SecurityError"); } });
  const { page, wrong } = await open(t, { before });
  assert.match(await page.textContent("#banner"), /storage is off/);
  await nameFarm(page);
  await answerCells(page, 0, 3);
  await settle(page);
  assert.match(await page.textContent("[data-score]"), /^\d+$/);
  run("check", await saved(page));
  assert.deepEqual(wrong, []);
});

test("with the storage full the page says so and keeps the walk at hand", async (t) => {
  const before = () => {
    for (let size = 4 << 20, n = 0; size >= 1; ) {
      try { localStorage.setItem(`ballast-${n++}`, "x".repeat(size)); } catch { size >>= 1; }
    }
  };
  const { page, wrong } = await open(t, { before });
  await nameFarm(page);
  await answerCells(page, 0, 3);
  assert.match(await page.textContent("#banner"), /storage is full/);
  run("check", await saved(page, "#banner button"));
  assert.deepEqual(wrong, []);
});

test("an unfinished answer is saved as not finished, with its figures, and a missing name is asked for", async (t) => {
  const { page } = await open(t);
  await addStretch(page, "Lane", "100");
  const stones = item(page, "track-stones-count");
  await stones.locator("[data-field=count]").fill("34");
  await page.click("#end [data-do=save]");
  assert.match(await page.textContent("#farm-complaint"), /farm’s name/);
  await nameFarm(page);
  const path = await saved(page);
  assert.match(readFileSync(path, "utf8"), /not finished: count 34/);
  run("check", path);
  await stones.locator("[data-field=over]").fill("1,200");
  assert.match(await stones.locator(".complaint").textContent(), /can’t be read as a number/);
});

test("the stopwatch outlives a reload and writes its time down", async (t) => {
  const { page, context } = await open(t);
  await page.clock.install();
  const watched = page.locator("[data-do=start-watch]:visible").first();
  const id = await watched.evaluate((button) => button.closest("[data-item]").dataset.item);
  await watched.click();
  const second = await (async () => { await page.close(); return (await open(t, { context })).page; })();
  await second.locator(`#i-${id} [data-do=stop-watch]`).click();
  const field = second.locator(`#i-${id} [data-field=over], #i-${id} [data-field=value]`).first();
  const text = `${await field.inputValue()}${await second.locator(`#i-${id} textarea`).inputValue()}`;
  assert.match(text, /\d/);
});

for (const width of [320, 375, 800]) {
  test(`at ${width} px nothing sticks out and everything to press is 48 px`, async (t) => {
    const { page } = await open(t, { width, height: 700 });
    await addStretch(page, "A rather long name for a stretch of track by the old water trough", "320");
    for (const [mode, size] of [["whole", ""], ["one", ""], ["whole", "huge"]]) {
      await page.click(`[data-mode=${mode}]`);
      await page.evaluate((value) => { document.documentElement.dataset.size = value; }, size);
      const faults = await page.evaluate(() => {
        const seen = [...document.querySelectorAll("main *, .bar *, .top *")].filter((element) => element.checkVisibility() && !element.closest(".sr"));
        const wide = seen.filter((element) => element.getBoundingClientRect().right > innerWidth + 0.5).map((element) => `wide: ${element.className} ${element.textContent.slice(0, 30)}`);
        const pressed = seen.filter((element) => element.matches("button, summary, .choice, input:not([type=radio]), select, textarea, .contents a"));
        const small = pressed.filter((element) => element.getBoundingClientRect().height < 48).map((element) => `small: ${element.outerHTML.slice(0, 80)}`);
        return [...wide, ...small, document.documentElement.scrollWidth > innerWidth ? "the page scrolls sideways" : ""].filter(Boolean);
      });
      assert.deepEqual(faults, [], `${mode} ${size}`);
    }
  });
}

test("one at a time goes through every question, stretch by stretch, by keyboard", async (t) => {
  const { page } = await open(t);
  await addStretch(page, "Near", "100");
  await addStretch(page, "Far", "900");
  await page.click("[data-mode=one]");
  const names = [];
  for (let n = 0; n < 200 && await page.isEnabled(".next"); n += 1) {
    await page.focus(".next");
    await page.keyboard.press("Enter");
    const here = await page.evaluate(() => ({
      visible: [...document.querySelectorAll("main [data-cell]")].filter((cell) => cell.checkVisibility()).length,
      name: document.querySelector(".here").closest("[data-item]")?.dataset.item ?? document.querySelector(".here").className,
      stretch: document.querySelector(".here.stretch legend")?.textContent ?? "",
      focused: Boolean(document.activeElement.closest(".here, .section, .part")),
    }));
    assert.ok(here.visible <= 1 && here.focused, JSON.stringify(here));
    names.push(`${here.name} ${here.stretch}`.trim());
  }
  const tracks = names.filter((name) => /(Near|Far)$/.test(name));
  assert.ok(tracks.length >= 4 && tracks.slice(0, tracks.length / 2).every((name) => name.endsWith("Near")), tracks.join("; "));
  assert.equal(new Set(names).size >= names.length - 12, true);

  await page.click("[data-mode=whole]");
  const radio = item(page, "finding-lame").locator("input").first();
  await radio.focus();
  await page.keyboard.press("ArrowDown");
  assert.equal(await item(page, "finding-lame").locator("input").nth(1).isChecked(), true);
});

test("every field has a name that a screen reader can say", async (t) => {
  const { page } = await open(t);
  await addStretch(page, "Near", "100");
  const nameless = await page.evaluate(() => [...document.querySelectorAll("input, select, textarea, button, iframe")]
    .filter((field) => !(field.labels?.length || field.getAttribute("aria-label") || field.title || field.textContent.trim()) && !field.closest("template"))
    .filter((field) => !field.matches("#ask button, [data-do=to-watch]"))
    .map((field) => field.outerHTML));
  assert.deepEqual(nameless, []);
  assert.equal(await page.locator("[aria-live=polite]#spoken").count(), 1);
});

test("the farmer's report opens on the spot, without any script or request", async (t) => {
  const { page, wrong } = await open(t);
  await nameFarm(page);
  await answerCells(page, 0, 9);
  await page.click("#end [data-do=report]");
  const frame = page.frameLocator("#report iframe");
  await frame.locator("h1").first().waitFor();
  assert.match(await frame.locator("body").textContent(), /Alder/);
  const background = await frame.locator("body").evaluate((body) => getComputedStyle(body).fontFamily);
  assert.ok(background, "its style is let in by the page's policy");
  assert.deepEqual(wrong, []);
});

test("a walk dated after today is asked about", async (t) => {
  const { page } = await open(t);
  assert.doesNotMatch(await page.textContent("#which"), /after today/);
  await page.fill("[data-record=date]", "2199-01-31");
  await page.locator("#which", { hasText: "2199-01-31 (after today" }).waitFor();
});

test("it prints as a sheet on A4 and Letter", async (t) => {
  const { page } = await open(t);
  for (const format of ["A4", "Letter"]) {
    const pdf = await page.pdf({ format, path: join(SHEETS, `${format}.pdf`) });
    assert.ok(pdf.length > 20000);
  }
  await page.emulateMedia({ media: "print" });
  assert.equal(await page.locator(".bar").isVisible(), false);
  for (const one of await page.locator(".item").all()) {
    assert.equal(await one.locator(".paper").isVisible(), true);
    assert.equal(await one.locator(".cells").isVisible(), false);
  }
});

test("the file is small, whole, and shut: one policy, no address, no path of the machine that made it", async () => {
  const text = readFileSync(sheetPath("pasture-herd"), "utf8");
  assert.ok(statSync(sheetPath("pasture-herd")).size < 1.5e6);
  assert.match(text, /default-src 'none'; script-src 'sha256-[A-Za-z0-9+/=]{44}' 'wasm-unsafe-eval'/);
  assert.doesNotMatch(text.replace(/id="engine">[^<]*/, ""), /(src|href)="?(https?:)?\/\//);
  const { bytes } = await engineOf("pasture-herd");
  assert.doesNotMatch(bytes.toString("latin1"), /\/(home|root|usr\/src|tmp|work|build)\/|registry\/src|[A-Z]:\\/);
});

test("ready in a second, and a score within 50 ms of reckoning", async (t) => {
  const { page } = await open(t);
  assert.ok(Number(await page.getAttribute("html", "data-ready")) < 1000 * Number(process.env.PATIENCE ?? 1));
  await nameFarm(page);
  await addStretch(page, "Near", "100");
  await answerCells(page);
  const times = [];
  for (let n = 0; n < 7; n += 1) {
    await item(page, "finding-lame").locator(".choice").nth(n % 2).click();
    await settle(page);
    times.push(Number(await page.getAttribute("html", "data-reckoned-ms")));
  }
  const middle = times.sort((a, b) => a - b)[3];
  t.diagnostic(`median ${middle} ms of ${times.join(", ")}`);
  assert.ok(middle < 50 * Number(process.env.PATIENCE ?? 1), `${middle} ms`);
});
