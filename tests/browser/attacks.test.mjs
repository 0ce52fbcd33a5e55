// Hostile text in every field of every file, on every page, in a real browser: it stays text.
//
// Each attack is added to all free text of a walk, its actions, its case records and a set of checklists.
// A page must then have the very elements that it has with plain words in their place, run no script,
// open no dialog and ask for nothing.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { cpSync, mkdirSync, readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { EXAMPLES, SHEETS, browser, open, run } from "./helper.mjs";

after(() => browser.close());

const OUTSIDE = "http://127.0.0.1:9/";

const ATTACKS = {
  script: "<script>document.title='HIT'</script>",
  "script after the ends of everything": "--></style></title></textarea></svg></text></desc>]]><script>alert(1)</script>",
  "image with a handler": `<img src=x onerror="alert(1)"><img src="${OUTSIDE}a.png">`,
  "handler out of double quotes": "\" onmouseover=\"alert(1)\" autofocus onfocus=\"alert(1)\" x=\"",
  "handler out of single quotes": "' onload='alert(1)' style='background:url(" + OUTSIDE + ")",
  "svg with a handler": "<svg/onload=alert(1)><svg><script>alert(1)</script></svg>",
  "svg that animates and embeds": "<animate onbegin=alert(1) attributeName=x dur=1s><use href=data:image/svg+xml,x#x /><foreignObject><iframe src=javascript:alert(1)>",
  "frames and objects": `<iframe srcdoc="<script>parent.alert(1)</script>"></iframe><object data="${OUTSIDE}"></object><embed src="${OUTSIDE}">`,
  "another page": `<meta http-equiv="refresh" content="0;url=${OUTSIDE}"><base href="${OUTSIDE}"><link rel=stylesheet href="${OUTSIDE}x.css">`,
  "a form": `<form action="${OUTSIDE}"><input name=a autofocus onfocus=alert(1)><button formaction=javascript:alert(1)>`,
  "style that fetches": `</style><style>@import '${OUTSIDE}x.css'; body{background:url(${OUTSIDE}y.png)}</style>`,
  "math and odd nesting": "<math><mtext><table><mglyph><style><!--</style><img title=\"--&gt;&lt;img src=1 onerror=alert(1)&gt;\">",
  "half a tag": "<img src=x onerror=alert(1)//",
  "tag with odd space": "<\u00a0script>alert(1)</script\u000b><scr\u0000ipt>alert(1)</scr\u0000ipt>",
  entities: "&lt;script&gt;alert(1)&lt;/script&gt; &#60;img src=x onerror=alert(1)&#62; &amp;lt;b&amp;gt;",
  "Markdown link": `[press](javascript:alert(1)) [a]: ${OUTSIDE} <${OUTSIDE}> [x][a]`,
  "Markdown image": `![x](${OUTSIDE}b.png) ![x][a] \`\`\`html <b> \`\`\``,
  "Markdown table and heading": "| a | b |\n|---|---|\n# heading\n\n- list\n\n```figure\nranking\n```\n\n> quote\n\n---\n\n    code",
  "Markdown that is escaped already": "\\<script>alert(1)\\</script> \\\\<b> \\`fill\\` `fill` &#96;fill&#96;",
  templates: "{{ farm }} {% for x in y %} {% raw %} ${alert(1)} #{alert(1)} <%= 7*7 %>",
  "letters that turn the line": "\u202e<tpircs>\u2066\u2069\u200f\u2028\u2029\ufeff",
  "control characters": "\u001b]8;;http://127.0.0.1:9/\u0007\u001b[31m\u0008\u007f\u0085",
  "other encodings": "+ADw-script+AD4-alert(1)+ADw-/script+AD4- %3Cscript%3E \u00abscript\u00bb \uff1cscript\uff1e",
  "a spreadsheet's formula": "=HYPERLINK(\"http://127.0.0.1:9/\",\"press\") +1 -1 @SUM(A1) \t=1",
  "very long": "<b>".repeat(600),
};

const TEXTS = /\b(title|why|authors|journal|ask|say|look|note|name|farm|skip|who|unit): "([^"]*)"/g;

/** The text of a file of ours with the attack behind every free text. */
const poisoned = (text, attack) => text.replace(TEXTS, (_, key, words) => `${key}: ${JSON.stringify(`${words} ${attack}`)}`)
  .replace(/^notes: >-\n[^]*$/m, `notes: ${JSON.stringify(attack)}\n`)
  .replace(/- what: "[^"]*"/, `- what: ${JSON.stringify(`An action ${attack}`)}`);

function poisonedFolder(from, to, attack) {
  mkdirSync(to, { recursive: true });
  for (const entry of readdirSync(from, { withFileTypes: true })) {
    if (entry.isDirectory()) poisonedFolder(join(from, entry.name), join(to, entry.name), attack);
    else {
      // In the table of words a brace is a mark, and one that is meant is written twice.
      const text = ["words.yaml", "pages.yaml"].includes(entry.name) ? attack.replace(/[{}]/g, "$&$&") : attack;
      writeFileSync(join(to, entry.name), poisoned(readFileSync(join(from, entry.name), "utf8"), text));
    }
  }
}

/** Every page of one farm whose files hold the attack, by name. */
function pages(name, attack) {
  const folder = join(SHEETS, `attack ${name}`);
  const checklists = join(folder, "own <b>");
  poisonedFolder(join(EXAMPLES, "..", "checklists"), checklists, attack);
  for (const file of ["walk.yaml", "walk-2026.yaml", "actions.yaml"]) {
    writeFileSync(join(folder, file), poisoned(readFileSync(join(EXAMPLES, "01-heronsway", file), "utf8"), attack));
  }
  cpSync(join(EXAMPLES, "group"), join(folder, "cards"), { recursive: true });
  const [headings, ...rows] = readFileSync(join(EXAMPLES, "01-heronsway", "cases.csv"), "utf8").trim().split("\n");
  const cell = `"${attack.replaceAll("\u0000", "").replaceAll("\"", "\"\"").replaceAll(/[\n\t\v]/g, " ")}"`;
  const hostile = rows.map((row, at) => (at % 9 ? row : row.replace(/^([^,]*,[^,]*,[^,]*,[^,]*),[^,]*,(.*),.*$/, `$1,${cell.replaceAll("$", "$$$$")},$2,${cell.replaceAll("$", "$$$$")}`)));
  writeFileSync(join(folder, "cases.csv"), [headings, ...hostile, ""].join("\n"));

  const at = (file) => join(folder, file);
  const commands = {
    farmer: ["report", at("walk.yaml"), "--for", "farmer"],
    adviser: ["report", at("walk.yaml"), "--for", "adviser"],
    plan: ["plan", at("walk.yaml"), "--budget", "12000", "--as", "html"],
    revisit: ["revisit", at("walk.yaml"), at("walk-2026.yaml"), "--actions", at("actions.yaml"), "--as", "html"],
    cases: ["cases", at("cases.csv"), "--cows", "274", "--as", "html", "--skip-bad"],
    group: ["group", at("cards"), "--as", "html"],
  };
  return Object.entries(commands).map(([page, parameters]) => {
    const out = join(folder, `${page}.html`);
    const draws = page === "cases" ? [] : ["--draws", "256"];
    run(...parameters, ...draws, "--checklists", checklists, "--out", out, "--quiet");
    return { page, out };
  });
}

/** Opens a page and gives its elements, its text and all that it did. */
async function look(context, out) {
  const page = await context.newPage();
  const did = [];
  page.on("dialog", (dialog) => { did.push(`dialog ${dialog.message()}`); dialog.dismiss(); });
  page.on("request", (request) => request.url().startsWith("file://") && request.isNavigationRequest() || did.push(`request ${request.url()}`));
  page.on("console", (message) => did.push(`console ${message.text()}`));
  page.on("popup", () => did.push("popup"));
  await page.goto(`file://${encodeURI(out).replaceAll("?", "%3F").replaceAll("#", "%23")}`);
  const seen = await page.evaluate(async () => {
    for (const element of document.querySelectorAll("body *")) {
      for (const event of ["mouseover", "focus", "click"]) element.dispatchEvent(new Event(event, { bubbles: true }));
    }
    await new Promise((resolve) => setTimeout(resolve, 50));
    const shape = (element) => `${element.localName}[${[...element.attributes].map(({ name }) => name).sort()}]`;
    const all = [...document.querySelectorAll("*")];
    // A longer text takes more lines in a chart; what lines are made of stays the same.
    return {
      page: all.filter((element) => !element.closest("svg")).map(shape),
      charts: [...new Set(all.filter((element) => element.closest("svg")).map(shape))].sort(),
      text: document.body.textContent,
      title: document.title,
    };
  });
  await page.close();
  return { ...seen, did };
}

let context;
const plain = {};
before(async () => {
  context = await browser.newContext();
  for (const { page, out } of pages("none", "plain words")) plain[page] = await look(context, out);
});

test("the attacks' places are on the pages", () => {
  for (const [page, least] of Object.entries({ farmer: 5, adviser: 60, plan: 20, revisit: 20, cases: 1, group: 10 })) {
    const places = plain[page].text.split("plain words").length - 1;
    assert.ok(places >= least, `${page}: ${places}`);
    assert.deepEqual(plain[page].did, []);
  }
});

for (const [name, attack] of Object.entries(ATTACKS)) {
  test(`stays text: ${name}`, async () => {
    for (const { page, out } of pages(name.replaceAll(/\W/g, "-"), attack)) {
      const seen = await look(context, out);
      assert.deepEqual(seen.did, [], page);
      // What the records say depends on how the attack is read as a lesion's name: other lines of the same kinds.
      const shape = ({ page: all }) => page === "cases" ? [...new Set(all)].sort() : all;
      assert.deepEqual(shape(seen), shape(plain[page]), `${page}: its elements`);
      assert.deepEqual(seen.charts, plain[page].charts, `${page}: its charts' elements`);
      assert.notEqual(seen.title, "HIT", page);
      const word = /[A-Za-z]{3,}/.exec(attack)?.[0];
      if (word) assert.ok(seen.text.includes(word), `${page} does not show ${word}`);
    }
  });
}

test("the pages' policy would stop a script and a request even if text became an element", async () => {
  for (const { page, out } of pages("policy", "plain words")) {
    const tab = await context.newPage();
    const asked = [];
    tab.on("response", (response) => asked.push(response.url()));
    await tab.goto(`file://${encodeURI(out)}`);
    const stopped = await tab.evaluate(async (outside) => {
      const found = [];
      document.addEventListener("securitypolicyviolation", (event) => found.push(event.effectiveDirective));
      document.body.insertAdjacentHTML("beforeend", `<img src="${outside}a.png" onerror="document.title='HIT'"><iframe src="${outside}"></iframe><link rel=stylesheet href="${outside}x.css">`);
      document.body.append(Object.assign(document.createElement("script"), { textContent: "document.title='HIT'" }));
      await new Promise((resolve) => setTimeout(resolve, 200));
      return { found: [...new Set(found)].sort(), title: document.title };
    }, OUTSIDE);
    assert.deepEqual(stopped.found, ["frame-src", "img-src", "script-src-attr", "script-src-elem", "style-src-elem"], page);
    assert.notEqual(stopped.title, "HIT", page);
    assert.deepEqual(asked.filter((url) => !url.startsWith("file://")), [], page);
    await tab.close();
  }
});

test("the walk sheet keeps hostile checklists, typed text and opened records as text", async (t) => {
  for (const [at, attack] of Object.values(ATTACKS).entries()) {
    const name = `attack-${at}`;
    const folder = join(SHEETS, name);
    poisonedFolder(join(EXAMPLES, "..", "checklists"), folder, attack);
    run("--quiet", "sheet", "pasture-herd", "--checklists", folder, "--out", join(SHEETS, `${name}.html`));
    const { page, context: own, wrong } = await open(t, { checklist: name });
    page.on("dialog", (dialog) => { wrong.push(`dialog ${dialog.message()}`); dialog.dismiss(); });
    const scripts = await page.locator("script").count();
    await page.fill("[data-record=farm]", attack.replaceAll(/[\n\u0000]/g, " "));
    const walk = join(SHEETS, `${name}.yaml`);
    writeFileSync(walk, poisoned(readFileSync(join(EXAMPLES, "01-heronsway", "walk.yaml"), "utf8"), attack));
    await page.setInputFiles("#file", walk);
    await page.waitForFunction(() => document.querySelector("#load-result").textContent);
    await page.click("[data-do=results]");
    const found = await page.evaluate(() => ({
      scripts: document.scripts.length,
      made: document.querySelectorAll("img, object, embed, base, link, math, form[action], [onerror], [onload], [onmouseover], [onfocus], main script").length,
      title: document.title,
    }));
    assert.equal(found.scripts, scripts, attack);
    assert.equal(found.made, 0, attack);
    assert.notEqual(found.title, "HIT", attack);
    assert.deepEqual(wrong, [], attack);
    await own.close();
  }
});
