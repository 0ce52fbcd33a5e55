// Small things said and read everywhere: numbers as people type them, dates, text for the page.

const sheet = JSON.parse(document.getElementById("sheet-data").textContent);

const $ = (selector, within = document) => within.querySelector(selector);
const $$ = (selector, within = document) => [...within.querySelectorAll(selector)];

/** A new element with properties and children; text children are never read as HTML. */
function make(tag, properties = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children.filter((child) => child != null));
  return element;
}

/** A sentence of the table, its blanks filled; in the form for one where `n` is 1. */
function say(key, values = {}) {
  const forms = sheet.words[key];
  const text = typeof forms === "string" ? forms : values.n === 1 ? forms.one : forms.other;
  return text.replace(/\{\{|\}\}|\{(\w+)\}/g, (whole, name) => (name ? String(values[name]) : whole[0]));
}

/** A plain number as the page's language writes it. */
const written = (text) => String(text).replace(".", say("number.decimal"));

/**
 * The decimal text of a number as people type it, or null: "3,5" and "3.5" are one number; "1,200"
 * could be two, so it is none, and so could "1.200" where the comma is the decimal mark. The text itself
 * goes into the record, so that no digit changes.
 */
function decimal(typed) {
  const text = String(typed ?? "").trim().replace(/\s/g, "");
  if (/^\d+,\d{3}$/.test(text) && !/^0+,/.test(text)) return null;
  if (say("number.decimal") === "," && /^\d+\.\d{3}$/.test(text) && !/^0+\./.test(text)) return null;
  const plain = text.replace(/^(\d*),(\d+)$/, "$1.$2");
  if (!/^(\d{1,9}(\.\d{0,9})?|\.\d{1,9})$/.test(plain)) return null;
  return plain.replace(/^\./, "0.").replace(/\.$/, "").replace(/^0+(?=\d)/, "");
}

function whole(typed) {
  const text = decimal(typed);
  return text !== null && /^\d+$/.test(text) ? text : null;
}

function today() {
  const now = new Date();
  const two = (number) => String(number).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

/** A figure for reading: whole from 10 on, else with one decimal. */
function figure(number) {
  if (number == null) return "–";
  const text = Math.abs(number) >= 9.95 ? Math.round(number).toLocaleString("en-GB").replaceAll(",", say("number.thousands")) : written(number.toFixed(1).replace(/\.0$/, ""));
  return text.replace(/^-0$/, "0").replace("-", "−");
}

const between = ([low, high]) => say("number.range", { low: figure(low), high: figure(high) });

/** Minutes and seconds of a running time in milliseconds. */
function clock(ms) {
  const seconds = Math.max(0, Math.floor(ms / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
