// The user's own keep and cull marks, and the decision file made of them.
const marks = {
  of: new Map(), // sub index -> "keep" or "cull"
  changed: [],

  start() {
    night.subs.forEach((sub, i) => {
      if (sub.decided) marks.of.set(i, sub.decided);
    });
    try {
      for (const [i, mark] of JSON.parse(store.get("marks " + night.id) || "[]")) {
        if (night.subs[i] && (mark === "keep" || mark === "cull")) marks.of.set(i, mark);
      }
    } catch {
      // What was stored is no list of marks: begin anew.
    }
    byId("save-marks").addEventListener("click", marks.save);
    byId("clear-marks").addEventListener("click", () => {
      marks.of.clear();
      marks.tell();
    });
    marks.tell();
  },

  set(i, mark) {
    if (mark) marks.of.set(i, mark);
    else marks.of.delete(i);
    marks.tell();
  },

  // step goes on to the next mark: keep, cull, none.
  step(i) {
    const next = { keep: "cull", cull: "" };
    marks.set(i, next[marks.of.get(i)] ?? "keep");
  },

  tell() {
    store.set("marks " + night.id, JSON.stringify([...marks.of]));
    for (const badge of document.querySelectorAll(".mark")) {
      badge.textContent = marks.of.get(Number(badge.dataset.mark)) || "";
    }
    const count = marks.of.size;
    byId("mark-count").textContent = count === 0 ? "no marks" : count === 1 ? "1 mark" : count + " marks";
    byId("save-marks").disabled = byId("clear-marks").disabled = count === 0;
    byId("decision-text").value = marks.text();
    for (const listener of marks.changed) listener();
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
