// Writes a walk record as YAML: every text between double quotes, so that no word turns into a number,
// a date or a truth value; numbers as they were typed. Reading is the engine's task.

function quoted(text) {
  const tame = String(text).replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, "\ufffd");
  return JSON.stringify(tame).replace(/[\u007f-\u009f\u2028\u2029\ufeff\ufffe\uffff]/g,
    (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, "0")}`);
}

const present = (value) => Object.entries(value).filter(([, child]) => child !== undefined && child !== null);

/** A value on one line, or null where it deserves lines of its own. */
function inline(value) {
  if (value instanceof Digits) return value.text;
  if (typeof value === "number" || typeof value === "boolean") return String(value);
  if (typeof value === "string") return quoted(value);
  if (Array.isArray(value)) {
    const parts = value.map(inline);
    return parts.includes(null) ? null : `[${parts.join(", ")}]`;
  }
  const parts = present(value).map(([key, child]) => [key, inline(child)]);
  if (parts.some(([, text]) => text === null)) return null;
  return parts.length ? `{ ${parts.map(([key, text]) => `${plainKey(key)}: ${text}`).join(", ")} }` : "{}";
}

const plainKey = (key) => (/^[a-z][a-z0-9_-]*$/.test(key) && !["no", "yes", "on", "off", "null", "true", "false", "n", "y"].includes(key) ? key : quoted(key));

function block(value, indent) {
  return present(value).map(([key, child]) => {
    const lead = `${indent}${plainKey(key)}:`;
    if (Array.isArray(child) && child.some((part) => typeof part === "object")) {
      return `${lead}\n${child.map((part) => `${indent}  - ${inline(part)}`).join("\n")}`;
    }
    const deep = typeof child === "object" && !Array.isArray(child) && !(child instanceof Digits)
      && present(child).some(([, inner]) => typeof inner === "object" && !(inner instanceof Digits) && !Array.isArray(inner));
    return deep ? `${lead}\n${block(child, `${indent}  `)}` : `${lead} ${inline(child)}`;
  }).join("\n");
}

/** The whole file. Its first line says which checklist and version it was answered on. */
function yamlOf(record, standIns) {
  return `# walk sheet ${record.checklist} ${record.version}\n${block(walkOf(record, standIns), "")}\n`;
}

/** Checklist and version from the first line of a file written by a sheet; null in any other file. */
function madeOn(text) {
  const found = /^\ufeff?# walk sheet (\S+) (.+?)\r?\n/.exec(text);
  return found && { checklist: found[1], version: found[2] };
}
