// The page itself: what a tap does, and what stands where.

let record = store.last() ?? blankRecord();
let editedSegment = null;
let step = 0;
let lastAnswer = null; // the engine's last answer to "score"
let scoreTimer = null;
let paperAnswers = true; // whether a print carries the answers

// --- laying out --------------------------------------------------------------------------------

/** The cells of an item stand once for the farm, or once for each stretch of track. */
function layOutSegments() {
  for (const item of items.filter((one) => one.each === "segment")) {
    const holder = document.getElementById(`i-${item.id}`);
    const cells = record.segments.map((segment) => {
      const stretch = make("fieldset", { className: "stretch" }, make("legend", { tabIndex: -1 }, segment.name));
      stretch.dataset.step = "";
      stretch.append($("template", holder).content.cloneNode(true));
      const cell = $("[data-cell]", stretch);
      cell.dataset.place = segment.id;
      for (const radio of $$("input[type=radio]", cell)) radio.name = `${item.id}/${segment.id}`;
      return stretch;
    });
    $(".cells", holder).replaceChildren(...cells);
    $(".none", holder).hidden = cells.length > 0;
    $(".none", holder).toggleAttribute("data-step", cells.length === 0);
  }
  const list = $("#stretches");
  if (!list) return;
  list.replaceChildren(make("ul", {}, ...record.segments.map((segment) => make("li", {},
    Object.assign(make("button", { type: "button" }, make("b", {}, segment.name),
      say(segment.width_m ? "script.stretch-wide" : "script.stretch", { length: written(segment.length_m), width: written(segment.width_m),
        passes: written(segment.passes_per_day), share: written(percent(segment.herd_share)) })),
    { onclick: () => editSegment(segment) })))));
}

const percent = (share) => String(Number((Number(share) * 100).toFixed(2)));

/** Puts the record's text into every field. */
function fill() {
  for (const field of $$("[data-record]")) field.value = dig(field.dataset.record) ?? "";
  for (const cell of $$("main [data-cell]")) fillCell(cell);
  for (const details of $$("details.extra:not(.dangers)")) details.open = $$("[data-record]", details).some((field) => field.value);
  refresh();
}

function dig(path) {
  return path.split(".").reduce((from, part) => from?.[part], record);
}

function put(path, value) {
  const parts = path.split(".");
  const last = parts.pop();
  parts.reduce((from, part) => (from[part] ??= {}), record)[last] = value;
}

const cellItem = (cell) => itemOf[cell.closest("[data-item]").dataset.item];
const cellKey = (cell) => keyOf(cellItem(cell).id, cell.dataset.place ?? null);

function fillCell(cell) {
  const entry = record.answers[cellKey(cell)] ?? {};
  for (const field of $$("[data-field]", cell)) {
    if (field.type === "radio") field.checked = entry.choose === field.value;
    else if (field.value !== (entry[field.dataset.field] ?? "")) field.value = entry[field.dataset.field] ?? "";
  }
  $("details.skip", cell).open ||= Boolean(entry.skip);
  $("details.note", cell).open ||= Boolean(entry.note);
  markCell(cell);
}

function markCell(cell) {
  const item = cellItem(cell);
  const entry = record.answers[cellKey(cell)];
  const complaint = complaintOf(item, entry);
  cell.dataset.state = stateOf(item, entry);
  const place = $(":scope > .complaint", cell);
  place.hidden = !complaint;
  if (place.textContent !== (complaint ?? "")) place.textContent = complaint ?? "";
  for (const field of $$("[data-field]:not([type=radio])", cell)) {
    const bad = PARTS[item.kind].includes(field.dataset.field) && complaint && field.value && decimal(field.value) === null;
    if (bad) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
}

// --- what stands beside the answers ------------------------------------------------------------

const SAY_STATE = { empty: "", part: say("script.begun"), done: say("script.answered"), skipped: say("script.skipped") };

function refresh() {
  let open = 0;
  for (const section of sheet.sections) {
    const states = section.items.map((item) => itemState(record, item));
    section.items.forEach((item, at) => {
      const fieldset = document.getElementById(`i-${item.id}`);
      $(".mark", fieldset).dataset.state = states[at];
      $("legend .state", fieldset).textContent = SAY_STATE[states[at]];
      $(`[data-box="${item.id}"]`).dataset.state = states[at];
    });
    const seen = states.filter((state) => state === "done" || state === "skipped").length;
    open += states.length - seen;
    $(`[data-sum="${section.id}"]`).textContent = say("answer.share", { count: seen, of: states.length });
  }
  const name = record.farm.trim() || say("script.no-name-yet");
  const late = record.date > today() ? ` (${say("script.after-today")})` : "";
  $("#which").textContent = `${name}${record.date ? `, ${record.date}` : ""}${late}`;
  const missing = lacking(record).map(([, words]) => words);
  $("#left").textContent = [
    open ? say("script.still-open", { open, all: items.length }) : say("script.none-open"),
    missing.length ? say("script.report-needs", { missing: missing.join(say("script.and")) }) : "",
  ].join(" ");
  const records = $("#records-complaint");
  records.textContent = recordsComplaint(record) ?? "";
  records.hidden = !records.textContent;
  showWatch();
}

/** Called after every tap: keep first, then show, then reckon. */
function changed() {
  tellTrouble(store.keep(record));
  refresh();
  clearTimeout(scoreTimer);
  scoreTimer = setTimeout(reckon, 120);
}

const TROUBLE = { off: say("script.trouble-off"), full: say("script.trouble-full") };

function tellTrouble(trouble) {
  const banner = $("#banner");
  if (!trouble) { banner.hidden = true; return; }
  if (!banner.hidden && banner.dataset.trouble === trouble) return;
  banner.dataset.trouble = trouble;
  banner.replaceChildren(TROUBLE[trouble], make("button", { type: "button", onclick: save }, say("page.save-record")));
  if (trouble === "full") banner.append(make("button", { type: "button", onclick: () => showWalks() }, say("script.look-at-walks")));
  banner.hidden = false;
}

// --- the score ---------------------------------------------------------------------------------

const answeredAny = () => items.some((item) => placesOf(record, item).some((place) => stateOf(item, record.answers[keyOf(item.id, place)]) === "done"));
const STAND_INS = { farm: say("script.no-name"), cows: "100" };

function reckon() {
  const words = $("[data-score-words]");
  const button = $(".score");
  if (!answeredAny()) {
    lastAnswer = null;
    button.removeAttribute("aria-label");
    $("[data-score]").textContent = "–";
    words.textContent = say(engine.trouble ? "script.no-reckoning" : "page.no-score");
    return;
  }
  const before = performance.now();
  lastAnswer = engine.ask({ task: "score", name: fileName(record), walk: yamlOf(record, { ...STAND_INS, date: today() }), draws: 1024 });
  document.documentElement.dataset.reckonedMs = (performance.now() - before).toFixed(1);
  const score = lastAnswer.score?.score;
  if (score?.value == null) {
    $("[data-score]").textContent = "–";
    words.textContent = say("script.no-score-why");
    button.removeAttribute("aria-label");
    return;
  }
  $("[data-score]").textContent = Math.round(score.value);
  const settled = score.answered === score.asked;
  const [low, high] = (settled ? score.interval : score.bounds).map(Math.round);
  words.textContent = say(settled ? "script.of-100-likely" : "script.of-100-could-be", { low, high });
  button.setAttribute("aria-label", say("script.score-label", { score: $("[data-score]").textContent, words: words.textContent }));
  $("#spoken").textContent = say("script.score-spoken", { score: Math.round(score.value), answered: score.answered, asked: score.asked });
  if ($("#results").open) showResults();
}

function titleOf(id) {
  const [option, segment] = id.split(":");
  const stretch = record.segments.find((one) => one.id === segment);
  return `${sheet.options[option] ?? option}${segment ? ` (${stretch?.name ?? segment})` : ""}`;
}

const at = (share) => `${Math.max(0, Math.min(100, share))}%`;

function scaleOf(score) {
  const span = (name, [low, high]) => {
    const mark = make("span", { className: name });
    mark.style.left = at(low);
    mark.style.width = at(high - low);
    return mark;
  };
  const scale = make("div", { className: "scale", ariaHidden: "true" }, span("open", score.bounds), span("sure", score.interval));
  for (const tick of [0, 25, 50, 75, 100]) {
    const line = make("i");
    const label = make("em", {}, String(tick));
    line.style.left = label.style.left = at(tick);
    scale.append(line, label);
  }
  const mark = make("b", {}, String(Math.round(score.value)));
  mark.style.left = at(score.value);
  scale.append(mark);
  return scale;
}

function findingsOf(findings) {
  return make("ul", { className: "findings" }, ...findings.map((finding) => make("li", {},
    `${finding.line ? say("script.line", { line: finding.line }) : ""}${finding.message}${finding.help ? `\n${finding.help}` : ""}`)));
}

function lines(rows) {
  return make("table", { className: "lines" }, make("tbody", {}, ...rows.map(([name, ...cells]) =>
    make("tr", {}, make("td", {}, name), ...cells.map((cell) => make("td", {}, cell))))));
}

function optionLine(option, perHundred) {
  const cases = option.cases_avoided;
  const line = make("li", {}, make("b", {}, titleOf(option.id)),
    make("p", {}, say(perHundred ? "script.fewer-of-100" : "script.fewer", { cases: figure(cases.mean), range: between(cases.interval) })));
  if (option.net_benefit) line.append(make("p", {}, say("script.net", { sum: figure(option.net_benefit.mean), currency: record.currency, range: between(option.net_benefit.interval) })));
  if (option.close_to_next) line.append(make("p", { className: "tie" }, say("script.tie")));
  return line;
}

function showResults() {
  const into = $("#results [data-into]");
  into.replaceChildren();
  if (!lastAnswer) into.append(make("p", {}, engine.trouble ?? say("script.nothing-answered")));
  else if (lastAnswer.trouble) into.append(make("p", {}, lastAnswer.trouble));
  else if (lastAnswer.score) fillResults(into, lastAnswer.score);
  if (lastAnswer?.findings?.length) into.append(make("h3", {}, say(lastAnswer.score ? "script.to-look-at" : "script.why-no-score")), findingsOf(lastAnswer.findings));
  if (!$("#results").open) $("#results").showModal();
}

function fillResults(into, result) {
  const { score } = result;
  const perHundred = !(Number(whole(record.cows)) > 0);
  if (score.value == null) {
    into.append(make("p", {}, say("script.no-weight")));
    return;
  }
  into.append(scaleOf(score),
    make("p", {}, say("script.score-means", { score: Math.round(score.value), range: between(score.interval) }),
      score.answered === score.asked ? say("script.all-answered")
        : say("script.score-bounds", { answered: score.answered, asked: score.asked, range: between(score.bounds) })));
  if (record.rest.cases) into.append(make("p", {}, say("script.records-outside", { file: record.rest.cases })));
  if (perHundred) into.append(make("p", {}, say("script.herd-of-100")));
  const options = result.interventions.slice(0, 7);
  into.append(make("h3", {}, say("script.helps-most")));
  if (options.length) into.append(make("ol", { className: "ranked" }, ...options.map((option) => optionLine(option, perHundred))),
    make("p", {}, make("small", {}, say("script.averages"))));
  else into.append(make("p", {}, say("script.no-option")));
  const factors = result.factors.filter((factor) => factor.attributed_cases).sort((a, b) => b.attributed_cases.mean - a.attributed_cases.mean).slice(0, 8);
  if (factors.length) into.append(make("h3", {}, say(perHundred ? "script.causes-of-100" : "script.causes")),
    lines(factors.map((factor) => [sheet.factors[factor.id] ?? factor.id, `${figure(factor.attributed_cases.mean)} (${between(factor.attributed_cases.interval)})`])));
  const sections = Object.fromEntries(sheet.sections.map((section) => [section.id, section.title]));
  into.append(make("h3", {}, say("script.by-section")), lines(score.sections.map((section) =>
    [sections[section.id] ?? section.id, section.value == null ? "–" : Math.round(section.value), say("answer.share", { count: section.answered, of: section.asked })])));
}

// --- steps, one at a time ----------------------------------------------------------------------

const isOne = () => document.documentElement.classList.contains("one");

/** The order of the walk: a section's questions, and those of the track stretch by stretch. */
function steps() {
  const order = [$("#farm")];
  for (const section of sheet.sections) {
    const groups = $$(`[data-section="${section.id}"] > .intro`).map((intro) => [intro]);
    for (const item of section.items) {
      const cells = $$("[data-step]", document.getElementById(`i-${item.id}`));
      if (item.each !== "segment") groups.push([document.getElementById(`i-${item.id}`)]);
      else if (groups.at(-1)?.tracks) cells.forEach((cell, at) => groups.at(-1).tracks[at].push(cell));
      else groups.push(Object.assign([], { tracks: cells.map((cell) => [cell]) }));
    }
    for (const group of groups) order.push(...(group.tracks?.flat() ?? group));
  }
  return [...order, $("#end")];
}

function isOpen(element) {
  const states = $$("[data-cell]", element).map((cell) => cell.dataset.state);
  return states.length ? states.some((state) => state === "empty" || state === "part") : element.classList.contains("none");
}

function goTo(at, focus = true) {
  const order = steps();
  step = Math.max(0, Math.min(order.length - 1, at));
  const element = order[step];
  for (const one of $$(".here")) one.classList.remove("here");
  element.classList.add("here");
  $("[data-next-words]").textContent = isOne() ? say("answer.share", { count: step + 1, of: order.length }) : say("page.next-open");
  $(".move:not(.next)").disabled = isOne() && step === 0;
  $(".next").disabled = isOne() && step === order.length - 1;
  if (!focus) return;
  const head = $("legend, h2", element) ?? $("h2", element.closest(".section") ?? element) ?? element;
  element.scrollIntoView({ block: isOne() ? "nearest" : "start" });
  if (isOne()) scrollTo(0, 0);
  head.focus({ preventScroll: true });
}

function move(by) {
  if (isOne()) return goTo(step + by);
  const order = steps();
  const at = order.findIndex((element) => element.getBoundingClientRect().top > (by > 0 ? 12 : -12));
  const here = at < 0 ? order.length - 1 : at;
  const open = order.map((element, index) => [index, isOpen(element)]).filter(([, is]) => is).map(([index]) => index);
  const focused = order.findIndex((element) => element.contains(document.activeElement));
  const from = focused >= 0 ? focused : here - (by > 0 ? 1 : 0);
  const next = by > 0 ? open.find((index) => index > from) ?? open[0] ?? order.length - 1 : open.filter((index) => index < from).at(-1) ?? 0;
  return goTo(next);
}

function setMode(mode) {
  document.documentElement.classList.toggle("one", mode === "one");
  document.documentElement.classList.toggle("whole", mode !== "one");
  for (const button of $$("[data-do=mode]")) button.setAttribute("aria-pressed", String(button.dataset.mode === mode));
  store.write("underfoot-mode", mode);
  goTo(step, false);
}

function toSection(id) {
  const order = steps();
  const inside = order.map((element, at) => [element, at]).filter(([element]) => element.closest(`[data-section="${id}"]`));
  const first = isOne() ? inside.find(([element]) => isOpen(element)) : null;
  goTo((first ?? inside[0])[1]);
  if (!isOne()) $("h2", document.getElementById(`s-${id}`)).scrollIntoView();
}

// --- stretches of track ------------------------------------------------------------------------

function editSegment(segment) {
  editedSegment = segment;
  const form = $("#segment-form");
  form.reset();
  const values = segment ? { ...segment, share: percent(segment.herd_share) } : { passes_per_day: "4", share: "100" };
  for (const [name, value] of Object.entries(values)) if (form.elements[name]) form.elements[name].value = value ?? "";
  $(".complaint", form).hidden = true;
  $("[data-do=drop-segment]").hidden = !segment;
  $("#segment").showModal();
  form.elements.name.focus();
}

function segmentComplaint(values) {
  if (!values.name.trim()) return say("script.stretch-name");
  if (!(Number(decimal(values.length_m)) > 0)) return say("script.stretch-length");
  if (values.width_m.trim() && !(Number(decimal(values.width_m)) > 0)) return say("script.stretch-width");
  if (!(Number(decimal(values.passes_per_day)) > 0)) return say("script.stretch-passes");
  const share = Number(decimal(values.share));
  return decimal(values.share) !== null && share > 0 && share <= 100 ? null : say("script.stretch-share");
}

function keepSegment(event) {
  event.preventDefault();
  const values = Object.fromEntries(new FormData(event.target));
  const complaint = segmentComplaint(values);
  const place = $(".complaint", event.target);
  place.textContent = complaint ?? "";
  place.hidden = !complaint;
  if (complaint) return;
  const segment = editedSegment ?? { id: segmentId(values.name) };
  Object.assign(segment, { name: values.name.trim(), length_m: decimal(values.length_m), width_m: decimal(values.width_m) ?? "",
    passes_per_day: decimal(values.passes_per_day), herd_share: String(Number((Number(decimal(values.share)) / 100).toFixed(6))) });
  if (!editedSegment) { record.segments.push(segment); handOnSkips(segment); }
  $("#segment").close();
  layOutSegments();
  fill();
  changed();
  goTo(step, false);
}

function segmentId(name) {
  const slug = name.normalize("NFD").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40) || "stretch";
  const stem = /^[a-z]/.test(slug) && slug !== "skip" ? slug : `stretch-${slug}`;
  const taken = (id) => record.segments.some((segment) => segment.id === id);
  let id = stem;
  for (let n = 2; taken(id); n += 1) id = `${stem}-${n}`;
  return id;
}

/** A question skipped before there were any stretches stays skipped on the first of them. */
function handOnSkips(segment) {
  if (record.segments.length > 1) return;
  for (const item of items.filter((one) => one.each === "segment" && record.answers[one.id])) {
    record.answers[keyOf(item.id, segment.id)] = record.answers[item.id];
    delete record.answers[item.id];
  }
}

async function dropSegment() {
  const segment = editedSegment;
  const keys = Object.keys(record.answers).filter((key) => key.endsWith(`/${segment.id}`));
  const sure = await ask(say("script.drop-stretch"), say("script.drop-stretch-why", { name: segment.name, n: keys.length }), say("script.take-it-out"));
  if (!sure) return;
  record.segments = record.segments.filter((one) => one !== segment);
  for (const key of keys) delete record.answers[key];
  $("#segment").close();
  layOutSegments();
  fill();
  changed();
  goTo(step, false);
}

/** A question with a yes and a no, as a promise of true or false. */
function ask(title, words, yes) {
  const dialog = $("#ask");
  $("h2", dialog).textContent = title;
  $("[data-into]", dialog).textContent = words;
  $("[data-answer=yes]", dialog).textContent = yes;
  dialog.showModal();
  $("[data-answer=no]", dialog).focus();
  return new Promise((settle) => {
    const end = (answer) => { dialog.close(); settle(answer); };
    for (const button of $$("[data-answer]", dialog)) button.onclick = () => end(button.dataset.answer === "yes");
    dialog.oncancel = () => settle(false);
  });
}

// --- taps in a cell ----------------------------------------------------------------------------

function entryOf(cell) {
  return (record.answers[cellKey(cell)] ??= {});
}

function setField(cell, field, value) {
  const entry = entryOf(cell);
  if (value === "") delete entry[field];
  else entry[field] = value;
  if (Object.keys(entry).length === 0) delete record.answers[cellKey(cell)];
  fillCell(cell);
  changed();
}

function add(cell, field, by) {
  const now = Number(decimal(entryOf(cell)[field]) ?? 0);
  const next = Math.max(0, Number((now + by).toFixed(4)));
  setField(cell, field, written(next));
}

function tap(cell, yes) {
  if (yes) add(cell, "count", 1);
  else if (!entryOf(cell).count) setField(cell, "count", "0");
  add(cell, "of", 1);
}

async function clearCell(cell) {
  const entry = record.answers[cellKey(cell)];
  if (entry?.note && !(await ask(say("script.clear"), say("script.clear-why"), say("script.clear-it")))) return;
  delete record.answers[cellKey(cell)];
  for (const details of $$(".tools details", cell)) details.open = false;
  fillCell(cell);
  changed();
}

/** Milliseconds in one unit of a stopwatch. */
const WATCH_MS = { min: 60000, s: 1000 };

function startWatch(cell) {
  record.watches.push({ key: cellKey(cell), started: Date.now() });
  changed();
}

/** Stops the watch that has run longest in a cell. A time that is not yet the answer goes into the note. */
function stopWatch(cell) {
  const key = cellKey(cell);
  const at = record.watches.findIndex((watch) => watch.key === key);
  const [watch] = record.watches.splice(at, 1);
  const item = cellItem(cell);
  const { unit, fills } = item.stopwatch;
  const taken = (Date.now() - watch.started) / WATCH_MS[unit];
  const time = unit === "s" ? String(Math.max(1, Math.round(taken))) : String(Math.max(0.1, Number(taken.toFixed(1))));
  if (fills) return setField(cell, item.kind === "count" ? "over" : "value", written(time));
  const note = entryOf(cell).note;
  return setField(cell, "note", `${note ? `${note}\n` : ""}${say("script.stopwatch-note", { time: written(time), unit })}`);
}

const watchCell = (watch) => $$("main [data-cell]").find((cell) => cellKey(cell) === watch.key);

function showWatch() {
  const now = Date.now();
  for (const button of $$("main [data-do=stop-watch]")) {
    const key = cellKey(button.closest("[data-cell]"));
    const times = record.watches.filter((watch) => watch.key === key).map((watch) => clock(now - watch.started));
    button.hidden = times.length === 0;
    button.nextElementSibling.textContent = times.join(" · ");
    button.previousElementSibling.textContent = say(times.length ? "script.start-another" : "page.start-watch");
  }
  const [first] = record.watches.filter(watchCell);
  $("[data-do=to-watch]").hidden = !first;
  if (first) $("[data-running]").textContent = say("script.watch-running", { n: record.watches.length, time: clock(now - first.started) });
}

// --- files -------------------------------------------------------------------------------------

function slug(text) {
  return text.normalize("NFD").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "") || say("script.file-walk");
}

const fileName = (one) => `${slug(one.farm)}-${one.date || say("script.file-no-date")}.yaml`;

function download(name, text, type) {
  const link = make("a", { href: URL.createObjectURL(new Blob([text], { type })), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/** True where all is there that a walk record needs; else says what is not, and goes there. */
function complete() {
  const missing = lacking(record);
  const place = $("#farm-complaint");
  place.hidden = missing.length === 0;
  if (missing.length === 0) return true;
  place.textContent = say("script.still-missing", { missing: missing.map(([, words]) => words).join(", ") });
  for (const dialog of $$("dialog[open]")) dialog.close();
  goTo(0);
  $(`[data-record="${missing[0][0]}"]`).focus();
  return false;
}

function save() {
  if (complete()) download(fileName(record), yamlOf(record), "text/yaml");
}

async function share() {
  if (!complete()) return;
  const file = new File([yamlOf(record)], fileName(record), { type: "text/plain" });
  try {
    await navigator.share({ files: [file], title: say("script.walk-of", { farm: record.farm }) });
  } catch (error) {
    if (error.name !== "AbortError") download(fileName(record), yamlOf(record), "text/yaml");
  }
}

function canShare() {
  try { return navigator.canShare?.({ files: [new File(["x"], "walk.yaml", { type: "text/plain" })] }) ?? false; } catch { return false; }
}

async function openFile(file) {
  const into = $("#load-result");
  const tell = (...parts) => into.replaceChildren(...parts);
  const text = await file.text();
  const kept = store.parse(text);
  if (kept) return openKept(kept, tell);
  const answer = engine.ask({ task: "read", name: file.name, walk: text });
  if (answer.trouble) return tell(make("p", {}, answer.trouble));
  if (!answer.walk) return tell(make("p", {}, say("script.not-opened", { file: file.name })), findingsOf(answer.findings));
  const made = madeOn(text);
  switchTo(recordOf(answer.walk));
  changed();
  tell(make("p", {}, say("script.opened", { file: file.name })));
  if (made && made.version !== sheet.version) into.append(make("p", {}, say("script.other-version", { version: made.version, mine: sheet.version })));
  if (answer.findings.length) into.append(findingsOf(answer.findings));
  return undefined;
}

/** A walk as the page itself keeps it, saved from the list of walks: nothing in it is judged. */
function openKept(kept, tell) {
  if (kept.checklist !== sheet.id) return tell(make("p", {}, say("script.other-checklist-kept", { checklist: kept.checklist })));
  if (kept.version !== sheet.version) return carryOver(kept);
  switchTo(kept);
  changed();
  return tell(make("p", {}, say("script.walk-open")));
}

function openReport() {
  if (!complete()) return;
  const answer = engine.ask({ task: "report", name: fileName(record), walk: yamlOf(record) });
  if (!answer.html) {
    lastAnswer = { findings: answer.findings ?? [], trouble: answer.trouble };
    showResults();
    return;
  }
  for (const dialog of $$("dialog[open]")) dialog.close();
  const frame = $("#report iframe");
  frame.srcdoc = answer.html;
  $("[data-do=print-report]").onclick = () => frame.contentWindow.print();
  $("[data-do=save-report]").onclick = () => download(`${slug(record.farm)}-${record.date}-${say("script.file-report")}.html`, answer.html, "text/html");
  $("#report").showModal();
}

// --- several walks -----------------------------------------------------------------------------

function switchTo(other) {
  record = other;
  lastAnswer = null;
  step = 0;
  layOutSegments();
  fill();
  goTo(0, false);
  reckon();
}

function countAnswers(one) {
  const count = Object.keys(one.answers).length;
  return say("script.answers", { n: count });
}

function keptLine({ name, text, record: kept }) {
  const line = make("li");
  const button = (words, act) => make("button", { type: "button", onclick: act }, words);
  const out = button(say("script.take-out"), async () => {
    if (await ask(say("script.drop-walk"), say("script.drop-walk-why"), say("script.take-it-out"))) {
      store.drop(name);
      if (kept?.id === record.id) switchTo(store.last() ?? blankRecord());
      tellTrouble(null);
      showWalks();
    }
  });
  if (!kept) {
    line.append(make("p", {}, say("script.broken-walk")),
      make("div", { className: "menu" }, button(say("script.save-text"), () => download(`${say("script.file-broken")}.txt`, text ?? "", "text/plain")), out));
    return line;
  }
  const here = kept.id === record.id && kept.version === record.version && kept.checklist === record.checklist;
  line.append(make("p", {}, make("b", {}, kept.farm || say("script.without-name")), ` ${kept.date}, ${countAnswers(kept)}${here ? say("script.open-now") : ""}`));
  const menu = make("div", { className: "menu" });
  if (kept.checklist !== sheet.id) {
    line.append(make("p", {}, make("small", {}, say("script.other-checklist", { checklist: kept.checklist }))));
  } else if (kept.version !== sheet.version) {
    line.append(make("p", {}, make("small", {}, say("script.from-version", { version: kept.version, mine: sheet.version }))));
    menu.append(button(say("script.carry-over"), () => carryOver(kept)));
  } else if (!here) {
    menu.append(button(say("script.open"), () => { switchTo(kept); store.write(`underfoot-open|${sheet.id}`, name); $("#walks").close(); }));
  }
  menu.append(button(say("script.save-copy"), () => download(`${slug(kept.farm)}-${kept.date}-${say("script.file-copy")}.json`, text, "application/json")));
  menu.append(out);
  line.append(menu);
  return line;
}

/** A copy of a walk of another version: answers whose question is still here; the old walk stays. */
function carryOver(old) {
  const fits = ([key, entry]) => {
    const item = itemOf[key.split("/")[0]];
    return item && Object.keys(entry).every((part) => ["skip", "note", ...PARTS[item.kind]].includes(part))
      && (!entry.choose || item.choices.includes(entry.choose));
  };
  const copy = structuredClone(old);
  const lost = Object.entries(copy.answers).filter((answer) => !fits(answer));
  copy.answers = Object.fromEntries(Object.entries(copy.answers).filter(fits));
  Object.assign(copy, { id: blankRecord().id, version: sheet.version, watches: [] });
  switchTo(copy);
  changed();
  showWalks();
  $("#load-result").replaceChildren(make("p", {}, lost.length
    ? say("script.carried-but", { n: lost.length, keys: lost.map(([key]) => key).join(", ") })
    : say("script.carried")));
}

function showWalks() {
  const kept = store.all();
  $("#load-result").replaceChildren();
  $("#walks [data-into]").replaceChildren(kept.length ? make("ul", { className: "kept" }, ...kept.map(keptLine))
    : make("p", {}, store.trouble ? TROUBLE[store.trouble] : say("script.none-kept")));
  if (!$("#walks").open) $("#walks").showModal();
}

// --- look and print ----------------------------------------------------------------------------

function setLook(name, value) {
  if (value) document.documentElement.dataset[name] = value;
  else delete document.documentElement.dataset[name];
  for (const radio of $$(`input[name="${name}"]`)) radio.checked = radio.value === value;
}

/** Writes the answers into the paper form, or wipes it. */
function fillPaper(withAnswers) {
  for (const slot of $$("[data-slot]")) {
    const place = "column" in slot.dataset ? record.segments[slot.dataset.column]?.id : null;
    const entry = (withAnswers && place !== undefined && record.answers[keyOf(slot.dataset.slot, place)]) || {};
    const box = $("s", slot);
    if (box) box.className = entry.choose === slot.dataset.choice ? "ticked" : "";
    else slot.textContent = entry[slot.dataset.part] ?? "";
  }
  for (const slot of $$("[data-segment]")) {
    const segment = withAnswers ? record.segments[slot.dataset.segment] : null;
    slot.textContent = !segment ? "" : slot.dataset.part === "share" ? `${written(percent(segment.herd_share))} %` : segment[slot.dataset.part] ?? "";
  }
  for (const pencil of $$(".pencil")) {
    const field = pencil.previousElementSibling;
    const text = field.tagName === "SELECT" ? (field.value && field.selectedOptions[0].text) : field.value;
    pencil.textContent = withAnswers ? text : "";
  }
}

function printSheet(withAnswers) {
  $("#printing").close();
  paperAnswers = withAnswers;
  print();
}

// --- wiring ------------------------------------------------------------------------------------

const DO = {
  walks: showWalks,
  save,
  share,
  report: openReport,
  results: showResults,
  print: () => $("#printing").showModal(),
  "print-blank": () => printSheet(false),
  "print-answers": () => printSheet(true),
  look: () => $("#look").showModal(),
  mode: (button) => setMode(button.dataset.mode),
  next: () => move(1),
  previous: () => move(-1),
  "add-segment": () => editSegment(null),
  "drop-segment": dropSegment,
  new: () => { switchTo(blankRecord()); $("#walks").close(); $("[data-record=farm]").focus(); },
  "to-watch": () => goTo(steps().findIndex((element) => element.contains(watchCell(record.watches.find(watchCell))))),
};

const DO_IN_CELL = {
  yes: (cell) => tap(cell, true),
  no: (cell) => tap(cell, false),
  "start-watch": startWatch,
  "stop-watch": stopWatch,
  clear: clearCell,
  reason: (cell, button) => setField(cell, "skip", button.textContent),
};

document.addEventListener("click", (event) => {
  const link = event.target.closest(".contents a");
  if (link) { event.preventDefault(); toSection(link.dataset.section); return; }
  const button = event.target.closest("button");
  if (!button) return;
  const cell = button.closest("[data-cell]");
  if (cell && button.dataset.add) add(cell, button.dataset.to, Number(button.dataset.add));
  else if (cell) DO_IN_CELL[button.dataset.do]?.(cell, button);
  else DO[button.dataset.do]?.(button);
});

document.addEventListener("input", (event) => {
  const field = event.target;
  const cell = field.closest("[data-cell]");
  if (cell && field.dataset.field) setField(cell, field.dataset.field, field.value);
  else if (field.dataset.record) {
    if (field.dataset.record === "currency") field.value = field.value.toUpperCase();
    put(field.dataset.record, field.value);
    $("#farm-complaint").hidden = true;
    changed();
  } else if (field.name === "light" || field.name === "size") {
    setLook(field.name, field.value);
    store.write(`underfoot-${field.name}`, field.value);
  }
});

$("#file").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  event.target.value = "";
  if (file) await openFile(file);
});
$("#segment-form").addEventListener("submit", keepSegment);
addEventListener("beforeprint", () => {
  fillPaper(paperAnswers && record.changed);
  for (const details of $$("details.extra:not([open])")) { details.dataset.shut = ""; details.open = true; }
});
addEventListener("afterprint", () => {
  paperAnswers = true;
  for (const details of $$("details[data-shut]")) { delete details.dataset.shut; details.open = false; }
});
// Another tab has changed this walk: take its answers, unless this tab's were never kept.
addEventListener("storage", (event) => {
  const other = event.key === nameOf(record) && !store.trouble && store.parse(event.newValue);
  if (other) { record = other; layOutSegments(); fill(); reckon(); }
});
addEventListener("beforeunload", (event) => { if (store.trouble && Object.keys(record.answers).length) event.preventDefault(); });
setInterval(() => { if (record.watches.length) showWatch(); }, 500);

document.documentElement.classList.add("scripted");
setLook("light", store.read("underfoot-light") ?? "");
setLook("size", store.read("underfoot-size") ?? "");
$("[data-do=share]").hidden = !canShare();
layOutSegments();
fill();
setMode(store.read("underfoot-mode") === "one" ? "one" : "whole");
tellTrouble(store.write("underfoot-mode", store.read("underfoot-mode") ?? "whole"));
engine.start().then(() => { reckon(); document.documentElement.dataset.ready = String(Math.round(performance.now())); });
