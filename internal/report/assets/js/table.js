// Sorting and filtering of the table of subs. What the filters hide is hidden
// in the contact sheet too.
const table = {
  key: "order",
  up: true,

  start() {
    for (const head of byId("sub-table").tHead.rows[0].cells) {
      const button = make("button", { type: "button" }, head.textContent);
      button.addEventListener("click", () => table.sortBy(head.dataset.key));
      head.replaceChildren(button);
    }
    const form = byId("filters");
    form.addEventListener("input", table.filter);
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("reset", () => setTimeout(table.filter));
    table.mark();
    table.filter();
  },

  sortBy(key) {
    table.up = key === table.key ? !table.up : true;
    table.key = key;
    const direction = table.up ? 1 : -1;
    const body = byId("sub-table").tBodies[0];
    const rows = [...body.rows].sort((a, b) => {
      const x = night.subs[a.dataset.i];
      const y = night.subs[b.dataset.i];
      return table.compare(x[key], y[key], direction) || x.order - y.order;
    });
    body.append(...rows);
    table.mark();
  },

  // compare puts missing figures last, whichever way the others run.
  compare(x, y, direction) {
    if (x === null || y === null) return (x === null) - (y === null);
    if (typeof x === "string") return direction * x.localeCompare(y, "en", { numeric: true });
    return direction * (x - y);
  },

  mark() {
    for (const head of byId("sub-table").tHead.rows[0].cells) {
      if (head.dataset.key === table.key) head.setAttribute("aria-sort", table.up ? "ascending" : "descending");
      else head.removeAttribute("aria-sort");
    }
  },

  filter() {
    const words = byId("find").value.toLowerCase().split(/\s+/).filter(Boolean);
    const verdicts = new Set([...document.querySelectorAll('input[name="verdict"]:checked')].map((box) => box.value));
    const filter = byId("by-filter").selectedIndex - 1; // the first is "all"
    const cause = byId("by-cause").selectedIndex > 0 ? byId("by-cause").value : "";
    const within = table.number();
    let shown = 0;
    for (const sub of night.subs) {
      sub.shown = verdicts.has(sub.verdict) && (filter < 0 || sub.filter === filter) &&
        (!cause || sub.causes.includes(cause)) && within(sub) && words.every((word) => sub.words.includes(word));
      shown += sub.shown;
      byId("sub-" + sub.order).hidden = !sub.shown;
      byId("picture-" + sub.order).hidden = !sub.shown;
    }
    byId("shown").textContent = `${shown} of ${night.subs.length} shown`;
  },

  // number is the condition on one figure: "FWHM over 3.2". A figure that was
  // not measured meets none.
  number() {
    const limit = byId("number-limit").valueAsNumber;
    const key = byId("number-figure").value;
    if (Number.isNaN(limit) || !key) return () => true;
    const over = byId("number-side").value === "over";
    return (sub) => sub[key] !== null && (over ? sub[key] > limit : sub[key] < limit);
  },

  // order is the subs shown, as the rows stand.
  order() {
    return [...byId("sub-table").tBodies[0].rows].filter((row) => !row.hidden).map((row) => Number(row.dataset.i));
  },

  // goTo brings a sub's row into view and marks it.
  goTo(i) {
    const row = byId("sub-" + i);
    if (row.hidden) {
      byId("filters").reset();
      table.filter();
    }
    for (const other of document.querySelectorAll("tr.here")) other.classList.remove("here");
    row.classList.add("here");
    row.scrollIntoView({ block: "center" });
    row.querySelector("a").focus({ preventScroll: true });
  },
};
