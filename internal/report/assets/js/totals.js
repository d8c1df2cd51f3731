// Hours and the stack as they follow from the marks. In a stack of the best
// weights, signal to noise squared adds up as exposure times weight.
const totals = {
  start() {
    totals.before = totals.byGroup((sub) => sub.decided || sub.measured);
    marks.changed.push(totals.show);
    totals.show();
  },

  // byGroup sums the subs of each group under some verdicts.
  byGroup(verdict) {
    const sums = night.groups.map(() => ({ keep: 0, doubtful: 0, cull: 0, "not judged": 0, usable: 0, clear: 0, images: [] }));
    for (const sub of night.subs) {
      const sum = sums[sub.group];
      const is = verdict(sub);
      sum[is]++;
      if (is === "cull" || is === "not judged" || sub.exposure === null) continue;
      sum.usable += sub.exposure;
      if (sub.weight === null) continue;
      sum.clear += sub.exposure * sub.weight;
      if (sub.fwhm > 0 && sub.beta > 1) {
        const core = sub.fwhm / 2 / Math.sqrt(2 ** (1 / sub.beta) - 1);
        const peak = (sub.exposure * sub.weight * (sub.beta - 1)) / core ** 2;
        sum.images.push({ core, peak, beta: sub.beta });
      }
    }
    return sums;
  },

  show() {
    const now = totals.byGroup((sub) => sub.verdict);
    const words = [];
    const hours = (seconds) => (seconds / 3600).toFixed(2);
    const all = { keep: 0, doubtful: 0, cull: 0, usable: 0, clear: 0 };
    const was = { usable: 0, clear: 0 };
    now.forEach((sum, g) => {
      const before = totals.before[g];
      for (const key of Object.keys(all)) all[key] += sum[key];
      for (const key of Object.keys(was)) was[key] += before[key];
      const moved = ["keep", "doubtful", "cull"].some((v) => sum[v] !== before[v]) || sum.usable !== before.usable;
      const row = [...document.querySelectorAll(".yield tr[data-group]")].find((r) => r.dataset.group === night.groups[g]);
      if (row) totals.write(row, sum, moved);
      if (!moved) return;
      words.push(make("li", {}, make("bdi", {}, night.groups[g]), ": " + totals.effect(before, sum)));
    });
    const sum = document.querySelector(".yield tr[data-all]");
    if (sum) totals.write(sum, all, words.length > 0);
    const box = byId("marks-effect");
    box.hidden = words.length === 0;
    box.replaceChildren(make("p", {}, make("b", {}, "With your marks: "),
      `${hours(all.usable)} h usable (was ${hours(was.usable)}), ${hours(all.clear)} h of clear sky (was ${hours(was.clear)}). All words below, and what they say of the stack, are of the verdicts without them.`),
    make("ul", {}, ...words));
  },

  // write puts sums into a row of the table; what no mark changed stays as it was printed.
  write(row, sum, moved) {
    const hours = (seconds) => (seconds / 3600).toFixed(2);
    for (const cell of row.querySelectorAll("[data-cell]")) {
      cell.dataset.printed ??= cell.textContent;
      const key = cell.dataset.cell;
      const text = key === "usable" || key === "clear" ? hours(sum[key]) : String(sum[key]);
      cell.textContent = moved && cell.dataset.printed !== "-" ? text : cell.dataset.printed;
    }
  },

  // effect says what marks did to one group's stack.
  effect(before, now) {
    const parts = [`${now.keep + now.doubtful} of ${plural(now.keep + now.doubtful + now.cull, "sub")}`];
    if (before.clear > 0 && now.clear > 0) {
      const gain = 100 * (Math.sqrt(now.clear / before.clear) - 1);
      parts.push(`signal to noise of the weighted stack ${gain < 0 ? "−" : "+"}${Math.abs(gain).toFixed(1)} %`);
    }
    if (before.images.length > 0 && now.images.length > 0) {
      parts.push(`its FWHM ${totals.width(before.images).toFixed(2)} → ${totals.width(now.images).toFixed(2)} px`);
    }
    return parts.join(", ");
  },

  // width is the FWHM of an average of star images: Moffat profiles of the subs'
  // own widths and exponents, of equal light, each with its weight. Sharp ones stand
  // out in the middle, so that it is less than the mean of theirs.
  width(images) {
    const at = (r) => images.reduce((sum, s) => sum + s.peak * (1 + (r / s.core) ** 2) ** -s.beta, 0);
    const half = at(0) / 2;
    let [low, high] = [0, 4 * Math.max(...images.map((s) => s.core))];
    for (let step = 0; step < 20; step++) {
      const middle = (low + high) / 2;
      if (at(middle) > half) low = middle;
      else high = middle;
    }
    return low + high;
  },
};
