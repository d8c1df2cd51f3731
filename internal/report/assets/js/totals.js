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
    const sums = night.groups.map(() => ({ keep: 0, doubtful: 0, cull: 0, "not judged": 0, usable: 0, clear: 0, width: 0 }));
    for (const sub of night.subs) {
      const sum = sums[sub.group];
      const is = verdict(sub);
      sum[is]++;
      if (is === "cull" || is === "not judged" || sub.exposure === null) continue;
      sum.usable += sub.exposure;
      if (sub.weight === null) continue;
      sum.clear += sub.exposure * sub.weight;
      if (sub.fwhm !== null) {
        sum.width += sub.exposure * sub.weight * sub.fwhm ** 2;
        sum.sharp = (sum.sharp ?? 0) + sub.exposure * sub.weight;
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
      `${hours(all.usable)} h usable (was ${hours(was.usable)}), ${hours(all.clear)} h of clear sky (was ${hours(was.clear)}).`),
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
    const parts = [`${now.keep + now.doubtful} of ${now.keep + now.doubtful + now.cull} subs`];
    if (before.clear > 0 && now.clear > 0) {
      const gain = 100 * (Math.sqrt(now.clear / before.clear) - 1);
      parts.push(`signal to noise of the weighted stack ${gain < 0 ? "−" : "+"}${Math.abs(gain).toFixed(1)} %`);
    }
    const fwhm = (sum) => (sum.sharp > 0 ? Math.sqrt(sum.width / sum.sharp).toFixed(2) : "–");
    if (before.sharp > 0 && now.sharp > 0) parts.push(`its FWHM ${fwhm(before)} → ${fwhm(now)} px`);
    return parts.join(", ");
  },
};
