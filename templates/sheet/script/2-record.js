// One walk as the page keeps it: what was typed, as it was typed. It becomes the program's walk record
// (and back) here; nothing is judged here but whether an answer is complete.

const items = sheet.sections.flatMap((section) => section.items);
const itemOf = Object.fromEntries(items.map((item) => [item.id, item]));
const PARTS = { choice: ["choose"], number: ["value"], count: ["count", "over"], share: ["count", "of"] };
const INTEGER = { count: true, of: true };

function blankRecord() {
  return {
    id: `${today()}-${Math.random().toString(36).slice(2, 8)}`,
    checklist: sheet.id, version: sheet.version, changed: null, watches: [],
    farm: "", code: "", cows: "", date: today(), by: "", currency: "", notes: "",
    segments: [], answers: {}, quantities: {},
    records: { from: "", to: "", average_cows: "", seen_by: "", counts: {} },
    rest: {}, // parts of an opened record that the page has no place for; written back as they came
  };
}

/** The places of an item: the farm as a whole (null), or each segment. */
const placesOf = (record, item) => (item.each === "segment" ? record.segments.map((segment) => segment.id) : [null]);
const keyOf = (itemId, place) => (place === null ? itemId : `${itemId}/${place}`);

/** What is wrong with an entry's figures, in words; null where nothing is. */
function complaintOf(item, entry) {
  if (!entry) return null;
  for (const part of PARTS[item.kind]) {
    const typed = entry[part];
    if (part === "choose" || !typed) continue;
    if (decimal(typed) === null) return say("script.no-number", { typed });
    if (INTEGER[part] && whole(typed) === null) return say("script.not-whole", { typed });
  }
  if (item.kind === "count" && entry.over && Number(decimal(entry.over)) === 0) return say("script.over-nought");
  if (item.kind === "share" && entry.of) {
    if (Number(whole(entry.of)) === 0) return say("script.of-nought");
    if (entry.count && Number(whole(entry.count)) > Number(whole(entry.of))) return say("script.more-than-all", { count: entry.count, of: entry.of });
  }
  return null;
}

/** How far an entry is: empty, part, done or skipped. */
function stateOf(item, entry) {
  if (!entry) return "empty";
  if (entry.skip?.trim()) return "skipped";
  const given = PARTS[item.kind].filter((part) => entry[part]);
  if (given.length === PARTS[item.kind].length && !complaintOf(item, entry)) return "done";
  return given.length > 0 ? "part" : "empty";
}

/** How far an item is, over all its places. */
function itemState(record, item) {
  const places = placesOf(record, item);
  const states = (places.length ? places : [null]).map((place) => stateOf(item, record.answers[keyOf(item.id, place)]));
  if (states.every((state) => state === "skipped")) return "skipped";
  if (states.every((state) => state === "done" || state === "skipped")) return "done";
  return states.some((state) => state !== "empty") ? "part" : "empty";
}

/** A YAML number: bare digits, unlike a text, which is always quoted. */
class Digits {
  constructor(text) { this.text = text; }
}
const digits = (typed) => { const text = decimal(typed); return text === null ? undefined : new Digits(text); };

/** An entry as the walk record has it. What is unfinished stays readable as a skip with its figures. */
function answerOf(item, entry) {
  const state = stateOf(item, entry);
  const note = entry?.note?.trim() || undefined;
  if (state === "skipped") return { skip: entry.skip.trim(), note };
  if (state === "done") {
    const parts = PARTS[item.kind].map((part) => [part, part === "choose" ? entry.choose : digits(entry[part])]);
    return { ...Object.fromEntries(parts), note };
  }
  if (state === "part") {
    const figures = PARTS[item.kind].filter((part) => entry[part]).map((part) => `${part} ${entry[part]}`);
    return { skip: say("script.not-finished", { figures: figures.join(", ") }), note };
  }
  return note ? { skip: say("script.see-note"), note } : undefined;
}

function answersOf(record) {
  const answers = {};
  for (const item of items) {
    const places = placesOf(record, item);
    if (item.each === "segment" && places.length) {
      const given = places.map((place) => [place, answerOf(item, record.answers[keyOf(item.id, place)])]);
      const kept = given.filter(([, answer]) => answer);
      if (kept.length) answers[item.id] = Object.fromEntries(kept);
    } else {
      const answer = answerOf(item, record.answers[item.id]);
      if (answer) answers[item.id] = answer;
    }
  }
  return answers;
}

const countsGiven = (counts) => Object.entries(counts).filter(([, typed]) => typed?.trim());

/** What is missing before the lameness records can be used; null where none were begun or all is there. */
function recordsComplaint(record) {
  const { from, to, average_cows, counts } = record.records;
  const given = countsGiven(counts);
  if (!from && !to && !average_cows && given.length === 0) return null;
  const missing = [!from && say("script.first-day"), !to && say("script.last-day"), !average_cows && say("script.average-cows")].filter(Boolean);
  if (missing.length) return say("script.records-missing", { missing: missing.join(", ") });
  if (from > to) return say("script.days-reversed");
  if (!(Number(decimal(average_cows)) > 0)) return say("script.average-nought");
  const wrong = given.find(([, typed]) => whole(typed) === null);
  return wrong ? say("script.cases-not-whole", { typed: wrong[1] }) : null;
}

function recordsOf(record) {
  const { from, to, average_cows, seen_by, counts } = record.records;
  if (!from || !to || recordsComplaint(record)) return undefined;
  const given = countsGiven(counts).map(([lesion, typed]) => [lesion, digits(typed)]);
  return { from, to, average_cows: digits(average_cows), seen_by: seen_by ? seen_by.split(" ") : undefined,
    counts: given.length ? Object.fromEntries(given) : undefined };
}

/** What the program needs before it can report, in the page's words; empty where all is there. */
function lacking(record) {
  return [
    !record.farm.trim() && ["farm", say("script.lacks-farm")],
    !(Number(whole(record.cows)) > 0) && ["cows", say("script.lacks-cows")],
    !record.date && ["date", say("script.lacks-date")],
    record.currency && !/^[A-Z]{3}$/.test(record.currency) && ["currency", say("script.lacks-currency")],
  ].filter(Boolean);
}

/** The walk record of the program. `standIns` fill what is lacking, for a score while walking only. */
function walkOf(record, standIns = {}) {
  const { herd = {}, ...rest } = record.rest;
  const quantities = Object.entries(record.quantities).map(([id, typed]) => [id, digits(typed)]).filter(([, value]) => value);
  return {
    walk: record.checklist,
    date: record.date || standIns.date,
    by: record.by || undefined,
    farm: { name: record.farm.trim() || standIns.farm, code: record.code || undefined },
    herd: { cows: digits(whole(record.cows) > 0 ? record.cows : standIns.cows), system: sheet.system,
      currency: /^[A-Z]{3}$/.test(record.currency) ? record.currency : undefined, ...herd },
    segments: record.segments.length ? record.segments.map((segment) => ({
      id: segment.id, name: segment.name, length_m: digits(segment.length_m), width_m: digits(segment.width_m),
      passes_per_day: digits(segment.passes_per_day), herd_share: digits(segment.herd_share) })) : undefined,
    answers: answersOf(record),
    quantities: quantities.length ? Object.fromEntries(quantities) : undefined,
    records: recordsOf(record),
    ...rest,
    notes: record.notes.trim() || undefined,
  };
}

/** A value of an opened record as somebody would type it; a last nought tells 2.125 from thousands. */
const typed = (value) => (value == null ? "" : String(value).replace(/^(\d+\.\d{3})$/, (text) => (decimal(text) === null ? `${text}0` : text)));
const flat = ({ skip, note, ...parts }) => ({
  ...Object.fromEntries(Object.entries(parts).map(([part, value]) => [part, typed(value)])),
  ...(skip ? { skip } : {}), ...(note ? { note } : {}),
});

/** A record of the page from the program's walk record (as the engine read it). */
function recordOf(walk) {
  const { walk: checklist, date, by, farm, herd, segments = [], answers = {}, quantities = {}, records, notes, ...rest } = walk;
  const { cows, currency, system, ...herdRest } = herd;
  const record = Object.assign(blankRecord(), {
    checklist, date, by: typed(by), farm: farm.name, code: typed(farm.code), cows: typed(cows), currency: typed(currency), notes: typed(notes),
  });
  record.segments = segments.map((segment) => Object.fromEntries(Object.entries(segment).map(([part, value]) => [part, typed(value)])));
  for (const [id, given] of Object.entries(answers)) {
    const item = itemOf[id];
    const forFarm = item.each !== "segment" || typeof given.skip === "string";
    const places = forFarm && item.each === "segment" && segments.length ? segments.map((segment) => segment.id) : null;
    if (places) for (const place of places) record.answers[keyOf(id, place)] = flat(given);
    else if (forFarm) record.answers[id] = flat(given);
    else for (const [place, answer] of Object.entries(given)) record.answers[keyOf(id, place)] = flat(answer);
  }
  record.quantities = Object.fromEntries(Object.entries(quantities).map(([id, value]) => [id, typed(value)]));
  if (records) {
    const counts = Object.fromEntries(Object.entries(records.counts ?? {}).map(([lesion, value]) => [lesion, typed(value)]));
    record.records = { from: records.from, to: records.to, average_cows: typed(records.average_cows), seen_by: (records.seen_by ?? []).join(" "), counts };
  }
  record.rest = Object.keys(herdRest).length ? { herd: herdRest, ...rest } : rest;
  return record;
}
