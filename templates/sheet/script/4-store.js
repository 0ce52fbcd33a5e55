// Where walks are kept between taps: the browser's own storage, one entry for each walk, named by
// checklist, version and walk. Every failure is told, and the walk at hand stays in memory.

const PREFIX = "underfoot|";
const nameOf = (record) => [PREFIX.slice(0, -1), record.checklist, record.version, record.id].join("|");

const store = {
  /** Why nothing can be kept ("off", "full"), or null. */
  trouble: null,

  write(name, text) {
    try {
      localStorage.setItem(name, text);
      return null;
    } catch (error) {
      return error?.name === "QuotaExceededError" && this.length() > 0 ? "full" : "off";
    }
  },

  read(name) {
    try { return localStorage.getItem(name); } catch { return null; }
  },

  drop(name) {
    try { localStorage.removeItem(name); } catch { /* nothing was kept there */ }
  },

  length() {
    try { return localStorage.length; } catch { return 0; }
  },

  /** Keeps a walk; says what is in the way, or null. */
  keep(record) {
    record.changed = new Date().toISOString();
    this.trouble = this.write(nameOf(record), JSON.stringify(record));
    if (!this.trouble) this.write(`underfoot-open|${sheet.id}`, nameOf(record));
    return this.trouble;
  },

  /** All kept walks, newest first, those that can't be read among them. */
  all() {
    const names = [];
    for (let at = 0; at < this.length(); at += 1) names.push(localStorage.key(at));
    const kept = names.filter((name) => name?.startsWith(PREFIX)).map((name) => ({ name, text: this.read(name), record: this.parse(this.read(name)) }));
    return kept.sort((a, b) => String(b.record?.changed).localeCompare(String(a.record?.changed)));
  },

  /** A kept walk from its text; null where it is broken. */
  parse(text) {
    try {
      const record = JSON.parse(text);
      const sound = typeof record.id === "string" && typeof record.answers === "object" && record.answers && Array.isArray(record.segments);
      return sound ? { ...blankRecord(), ...record } : null;
    } catch { return null; }
  },

  /** The walk this sheet was last on, if it is still here. */
  last() {
    const mine = this.all().filter(({ record }) => record && record.checklist === sheet.id && record.version === sheet.version);
    const open = this.read(`underfoot-open|${sheet.id}`);
    return (mine.find(({ name }) => name === open) ?? mine[0])?.record ?? null;
  },
};
