// The user's own verdicts. A mark overrules what the figures say everywhere on
// the page: table, pictures, timeline, hours.
const marks = {
  of: new Map(), // sub index -> "keep" or "cull"
  past: [], // what the last changes replaced, for undoing: lists of [index, mark before]
  changed: [], // called with the indices whose mark changed
  last: -1, // where a range begins

  start() {
    const stored = marks.stored();
    night.subs.forEach((sub, i) => {
      const mark = stored[sub.id] ?? sub.decided;
      if (mark === "keep" || mark === "cull") marks.of.set(i, mark);
    });
    byId("save-marks").addEventListener("click", marks.save);
    byId("undo-marks").addEventListener("click", marks.undo);
    byId("clear-marks").addEventListener("click", () => marks.set([...marks.of.keys()], ""));
    for (const button of document.querySelectorAll("[data-mark-shown]")) {
      button.addEventListener("click", () => marks.set(night.subs.filter((sub) => sub.shown).map((sub) => sub.order), button.dataset.markShown));
    }
    byId("sub-table").addEventListener("click", (event) => {
      const button = event.target.closest("button[data-step]");
      if (button) marks.pick(Number(button.dataset.step), event.shiftKey, table.order());
    });
    marks.tell(night.subs.map((sub) => sub.order));
  },

  // stored is what the browser remembers of this and other nights, by file.
  stored() {
    try {
      return JSON.parse(store.get("marks") || "{}") || {};
    } catch {
      return {}; // what was stored is no list of marks: begin anew
    }
  },

  // keep remembers some marks; a page that is served has its server do it.
  keep(list) {
    const stored = marks.stored();
    for (const i of list) {
      const { id, decided } = night.subs[i];
      const mark = marks.of.get(i) || "";
      if (mark === decided) delete stored[id];
      else stored[id] = mark;
    }
    store.set("marks", JSON.stringify(stored));
  },

  next: (i) => ({ keep: "cull", cull: "" })[marks.of.get(i)] ?? "keep",

  // step goes on to the next mark: keep, cull, none.
  step(i) {
    marks.set([i], marks.next(i));
  },

  // pick steps one sub's mark; with a range, all from the one picked before get
  // what that one has.
  pick(i, range, order) {
    const from = order.indexOf(marks.last);
    const to = order.indexOf(i);
    if (range && from >= 0 && to >= 0) {
      marks.set(order.slice(Math.min(from, to), Math.max(from, to) + 1), marks.of.get(marks.last) || "");
    } else {
      marks.step(i);
    }
    marks.last = i;
  },

  set(list, mark) {
    const before = list.filter((i) => (marks.of.get(i) || "") !== mark).map((i) => [i, marks.of.get(i) || ""]);
    if (!before.length) return;
    marks.past.push(before);
    marks.put(before.map(([i]) => [i, mark]));
  },

  undo() {
    const before = marks.past.pop();
    if (before) marks.put(before);
  },

  put(pairs) {
    for (const [i, mark] of pairs) {
      if (mark) marks.of.set(i, mark);
      else marks.of.delete(i);
    }
    const list = pairs.map(([i]) => i);
    marks.keep(list);
    marks.tell(list);
  },

  tell(list) {
    for (const i of list) marks.show(i);
    const count = marks.of.size;
    byId("mark-count").textContent = count === 0 ? "no marks" : count === 1 ? "1 mark" : count + " marks";
    byId("save-marks").disabled = byId("clear-marks").disabled = count === 0;
    byId("undo-marks").disabled = marks.past.length === 0;
    byId("decision-text").value = marks.text();
    for (const listener of marks.changed) listener(list);
  },

  // show writes a sub's verdict as it is now into its row and its picture.
  show(i) {
    const sub = night.subs[i];
    const mark = marks.of.get(i);
    sub.mark = mark || "";
    sub.verdict = mark || sub.measured;
    sub.verdictRank = verdictRank[sub.verdict];
    byId("picture-" + i).querySelector(".mark").textContent = mark || "";
    const sign = byId("picture-" + i).querySelector(".cap .v");
    sign.setAttribute("class", "v v-" + sub.verdict.replace(" ", "-"));
    sign.firstElementChild.setAttribute("href", "#v-" + sub.verdict.replace(" ", "-"));
    byId("picture-" + i).querySelector(".cap-verdict").textContent = sub.verdict;
    const cell = byId("sub-" + i).querySelector(".verdict-cell");
    const button = cell.querySelector("button");
    button.replaceChildren(verdictSign(sub.verdict), " " + sub.verdict);
    button.setAttribute("aria-label", `${sub.verdict}, ${mark ? "your mark" : "measured"}. Press to mark ${marks.next(i) || "nothing"}.`);
    cell.querySelector(".tag").hidden = !mark;
  },

  // text is the decision file: one sub a line, in the order of the night.
  text() {
    const lines = ["# Own verdicts on the subs of " + document.title];
    for (const i of [...marks.of.keys()].sort((a, b) => a - b)) {
      lines.push(marks.of.get(i) + " " + night.subs[i].decision);
    }
    return lines.join("\n") + "\n";
  },

  save() {
    const url = URL.createObjectURL(new Blob([marks.text()], { type: "text/plain" }));
    const link = make("a", { href: url, download: "decisions.txt" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 10000);
  },
};
