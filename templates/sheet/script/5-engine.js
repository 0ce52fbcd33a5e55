// The program's own engine, unpacked from this file. One question in, one answer out, both JSON.

const engine = {
  exports: null,
  /** Why there is no engine, in words; null where it runs. */
  trouble: null,

  async start() {
    try {
      const packed = Uint8Array.from(atob($("#engine").textContent), (sign) => sign.charCodeAt(0));
      const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
      const bytes = await new Response(stream).arrayBuffer();
      this.exports = (await WebAssembly.instantiate(bytes, {})).instance.exports;
    } catch (error) {
      this.trouble = say("script.no-engine", { why: error.message });
    }
  },

  ask(question) {
    if (!this.exports) return { trouble: this.trouble ?? say("script.unpacking") };
    try {
      const { alloc, run, memory } = this.exports;
      const asked = new TextEncoder().encode(JSON.stringify({ ...question, checklist: sheet.id, files: sheet.files, language: sheet.language }));
      const at = alloc(asked.length);
      new Uint8Array(memory.buffer, at, asked.length).set(asked);
      const answer = run(at, asked.length);
      const length = new DataView(memory.buffer).getUint32(answer, true);
      const text = new TextDecoder().decode(new Uint8Array(memory.buffer, answer + 4, length));
      this.exports.dealloc();
      return JSON.parse(text);
    } catch (error) {
      // A trap leaves the module in an unknown state: unpack it afresh for the next question.
      this.exports = null;
      this.start();
      return { trouble: say("script.engine-stopped", { why: error.message }) };
    }
  },
};
