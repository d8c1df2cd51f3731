// The timeline: four charts over one time axis.
const timeline = {
  charts: [],
  at: -1, // position in timeline.subs that is pointed at
  from: -1, // where a range by keyboard begins
  subs: [], // indices of the subs that are drawn, in time order
  xs: [], // their places on the axis

  panels: [
    { key: "transparency", note: " (1 is the best of the group)", low: 0 },
    { key: "sky", log: true },
    { key: "fwhm" },
    { key: "ellipticity", note: " (1 - b/a)", low: 0 },
  ],

  start() {
    const timed = night.subs.filter((sub) => sub.start !== null);
    const span = timed.length ? timed.at(-1).start - timed[0].start : 0;
    const box = byId("timeline-sequence");
    box.checked = span > 20 * 3600 || timed.length < night.subs.length / 2; // several nights, or no clock
    box.addEventListener("change", timeline.build);
    theme.changed.push(timeline.recolor);
    const charts = byId("charts");
    charts.addEventListener("keydown", timeline.key);
    charts.addEventListener("pointerleave", () => (timeline.tip.hidden = true));
    timeline.tip = make("div", { class: "tip", hidden: "" });
    new ResizeObserver(timeline.resize).observe(charts);
    marks.changed.push(timeline.repaint);
    for (const button of document.querySelectorAll("[data-mark-view]")) {
      button.addEventListener("click", () => marks.set(timeline.inView(), button.dataset.markView));
    }
    timeline.build();
  },

  repaint() {
    for (const chart of timeline.charts) chart.redraw(false, false);
  },

  // inView is the subs between the ends of the axis as it stands.
  inView() {
    const { min, max } = timeline.charts[0].scales.x;
    return timeline.subs.filter((i, k) => timeline.xs[k] >= min && timeline.xs[k] <= max);
  },

  // log tells whether the sky needs a logarithmic axis: filters differ by much.
  log() {
    const levels = night.subs.map((sub) => sub.sky).filter((sky) => sky !== null);
    return levels.length > 0 && Math.min(...levels) > 0 && Math.max(...levels) > 8 * Math.min(...levels);
  },

  sequence: () => byId("timeline-sequence").checked,

  build() {
    for (const chart of timeline.charts) chart.destroy();
    byId("charts").replaceChildren();
    timeline.subs = night.subs.map((sub) => sub.order).filter((i) => timeline.sequence() || night.subs[i].start !== null);
    timeline.xs = timeline.subs.map((i, k) => (timeline.sequence() ? k + 1 : night.subs[i].start));
    timeline.at = timeline.from = -1;
    timeline.sync = uPlot.sync("night");
    timeline.charts = timeline.panels.map(timeline.chart);
    byId("charts").append(timeline.tip);
    timeline.tip.hidden = true;
    timeline.legend();
  },

  chart(panel, row) {
    const host = make("div");
    const values = timeline.subs.map((i) => night.subs[i][panel.key]);
    const last = row === timeline.panels.length - 1;
    const log = panel.log && timeline.log();
    byId("charts").append(make("p", { class: "chart-title" }, figures.heading(panel.key) + (panel.note ?? "") + (log ? ", log scale" : "")), host);
    const axis = {
      stroke: () => theme.color("ink"), font: "12px system-ui, sans-serif",
      grid: { stroke: () => theme.color("line"), width: 1 }, ticks: { stroke: () => theme.color("line"), width: 1 },
    };
    const chart = new uPlot({
      width: timeline.width(), height: timeline.height(last), legend: { show: false }, padding: [10, 12, 0, 0],
      scales: { x: { time: !timeline.sequence(), range: timeline.xRange }, y: log ? { distr: 3, range: (u, low, high) => (low > 0 ? [low / 1.3, high * 1.3] : [0.1, 1]) } : { range: (u, low, high) => timeline.limits(panel, low, high) } },
      cursor: { sync: { key: "night" }, drag: { x: true, y: false, uni: 12 }, points: { show: false }, y: false, dataIdx: timeline.nearest },
      tzDate: (seconds) => uPlot.tzDate(new Date(seconds * 1000), "Etc/UTC"),
      axes: [
        { ...axis, size: last ? 46 : 8, label: last ? (timeline.sequence() ? "sub" : "time, UTC" + localWords()) : undefined, labelSize: last ? 20 : 0,
          labelFont: "12px system-ui, sans-serif",
          values: last ? timeline.xLabels : () => [], incrs: timeline.sequence() ? [1, 2, 5, 10, 20, 50, 100, 200, 500] : undefined },
        { ...axis, size: 58, ...(log ? { splits: timeline.logSplits, filter: (u, splits) => splits, values: (u, splits) => splits.map((v) => String(Number(v.toPrecision(1)))) } : {}) },
      ],
      series: [{}, { stroke: "transparent", paths: () => null, points: { show: false } }],
      hooks: {
        drawClear: [(u) => backdrop.paint(u, row)],
        draw: [(u) => timeline.paint(u, values)],
        setCursor: [(u) => timeline.follow(u)],
      },
    }, [timeline.xs, values], host);
    host.addEventListener("click", () => timeline.go());
    return chart;
  },

  xLabels: (u, splits) => splits.map((x) => (timeline.sequence() ? (Number.isInteger(x) ? String(x) : "") : clock(x).slice(0, 5))),

  // xRange leaves half a sub of room at either end.
  xRange(u, low, high) {
    if (low === null || high === null) return [0, 1];
    const whole = low === timeline.xs[0] && high === timeline.xs.at(-1);
    if (!whole && high > low) return [low, high];
    const room = timeline.sequence() ? 0.7 : Math.max(60, 0.015 * (high - low));
    return [low - room, high + room];
  },

  // range is the places from the beginning of the range to the pointed one.
  range() {
    const ends = [timeline.from >= 0 ? timeline.from : timeline.at, timeline.at].sort((a, b) => a - b);
    return Array.from({ length: ends[1] - ends[0] + 1 }, (_, k) => ends[0] + k);
  },

  limits(panel, low, high) {
    if (low === null || high === null) return [0, 1];
    if (panel.low !== undefined) low = Math.min(low, panel.low);
    const room = Math.max(0.08 * (high - low), 0.02 * Math.abs(high), 1e-6);
    if (panel === timeline.panels[0] && night.events.length) {
      return [low, high + 0.35 * (high - low) + room]; // the words of events stand above the marks
    }
    return [panel.low !== undefined && low === panel.low ? low : low - room, high + room];
  },

  // logSplits are the powers of ten, and their doubles and fivefolds where
  // those alone would be too few.
  logSplits(u, axis, low, high) {
    const steps = high > 100 * low ? [1] : [1, 2, 5];
    const splits = [];
    for (let e = Math.floor(Math.log10(low)); e <= Math.ceil(Math.log10(high)); e++) {
      for (const step of steps) splits.push(step * 10 ** e);
    }
    return splits.filter((v) => v >= low && v <= high);
  },

  fixed: 0, // the width that paper asks for; 0: what there is
  width: () => timeline.fixed || Math.max(240, byId("charts").clientWidth),
  height: (last) => (innerWidth < 600 ? 104 : 128) + (last ? 44 : 6),

  resize() {
    timeline.charts.forEach((chart, row) => {
      const width = timeline.width();
      if (chart.width !== width) chart.setSize({ width, height: timeline.height(row === timeline.charts.length - 1) });
    });
  },

  recolor() {
    for (const chart of timeline.charts) chart.redraw(false, true);
    timeline.legend();
  },

  paint(u, values) {
    const radius = (timeline.subs.length > 150 ? 3 : 4) * devicePixelRatio;
    const paper = theme.color("paper");
    const colors = night.filters.map((_, filter) => theme.color(shapes.colorName(filter)));
    const context = u.ctx;
    context.save();
    context.beginPath();
    context.rect(u.bbox.left - radius, u.bbox.top - 2 * radius, u.bbox.width + 2 * radius, u.bbox.height + 4 * radius);
    context.clip();
    timeline.subs.forEach((i, k) => {
      if (values[k] === null) return;
      const sub = night.subs[i];
      const x = u.valToPos(timeline.xs[k], "x", true);
      const y = u.valToPos(values[k], "y", true);
      const scale = k === timeline.at || (timeline.from >= 0 && timeline.range().includes(k)) ? 1.8 : 1;
      shapes.paint(context, x, y, radius * scale, sub.filter, sub.verdict, colors[sub.filter], paper);
    });
    context.restore();
  },

  // nearest is the drawn sub whose place is closest to the pointer.
  nearest: (u, series, index) => index,

  follow(u) {
    const { idx, left } = u.cursor;
    if (u.cursor.event && left >= 0 && idx !== null) timeline.point(idx, u);
  },

  // point names a sub beside its marks and below the charts.
  point(k, u) {
    if (k === timeline.at && !timeline.tip.hidden) return;
    timeline.at = k;
    const sub = night.subs[timeline.subs[k]];
    const when = sub.start === null ? "" : clock(sub.start) + " UTC" + (night.local === null ? "" : ` (${localClock(sub.start)} local)`) + ", ";
    const measured = figures.sentence(["transparency", "season", "sky", "skyMag", "fwhm", "ellipticity", "limit"], sub);
    const verdict = sub.verdict + (sub.causes.length ? " (" + sub.causes.join(", ") + ")" : "");
    timeline.tip.replaceChildren(make("b", {}, make("bdi", {}, sub.name)), make("br"), `${when}${sub.filterName}, ${verdict}`, make("br"), measured);
    byId("timeline-reading").replaceChildren(make("bdi", {}, sub.name), `: ${when}${sub.filterName}, ${verdict}; ${measured}`,
      sub.sentence ? ". " + sub.sentence : "");
    const chart = u || timeline.charts[0];
    const charts = byId("charts").getBoundingClientRect();
    const over = chart.over.getBoundingClientRect();
    const x = over.left - charts.left + chart.valToPos(timeline.xs[k], "x");
    timeline.tip.hidden = false;
    const wide = timeline.tip.offsetWidth;
    timeline.tip.style.left = Math.max(0, Math.min(x + 14, charts.width - wide)) + "px";
    timeline.tip.style.top = over.bottom - charts.top + 2 + "px";
    timeline.repaint();
  },

  // key steps from sub to sub; with Shift the steps span a range, which M marks.
  key(event) {
    const count = timeline.subs.length;
    const steps = { ArrowRight: 1, ArrowLeft: -1 };
    if (event.key in steps && count) {
      event.preventDefault();
      const from = timeline.at;
      timeline.point((timeline.at + steps[event.key] + count) % count);
      timeline.from = event.shiftKey ? (timeline.from >= 0 ? timeline.from : Math.max(from, 0)) : -1;
      timeline.repaint();
    } else if (event.key.toLowerCase() === "m" && timeline.at >= 0) {
      marks.set(timeline.range().map((k) => timeline.subs[k]), marks.next(timeline.subs[timeline.at]));
    } else if (event.key === "Enter") {
      timeline.go();
    }
  },

  go() {
    if (timeline.at >= 0) table.goTo(timeline.subs[timeline.at]);
  },

  legend() {
    const entries = night.filters.map((name, filter) => [shapes.sign(filter, "keep", `var(--${shapes.colorName(filter)})`), make("bdi", {}, name)]);
    const ink = "var(--ink)";
    entries.push([shapes.sign(0, "keep", ink), "keep"], [shapes.sign(0, "doubtful", ink), "doubtful"], [shapes.sign(0, "cull", ink), "cull"]);
    entries.push(...backdrop.legend());
    byId("timeline-legend").replaceChildren(...entries.map((parts) => make("span", {}, ...parts)));
  },
};
