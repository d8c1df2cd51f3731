// The season's charts: figures over nights, a mark a night and a colour a series.
const season = {
  charts: [],
  data: JSON.parse(byId("season-data").textContent),

  start() {
    theme.changed.push(() => season.charts.forEach((chart) => chart.redraw(false, true)));
    for (const part of document.querySelectorAll("[data-part]")) {
      for (const chart of season.data) {
        if (chart.part === part.dataset.part) season.draw(part, chart);
      }
    }
    addEventListener("resize", () => season.charts.forEach((chart) => chart.setSize({ width: season.width(), height: season.height })));
  },

  height: 190,
  width: () => Math.max(240, document.querySelector("main > section").clientWidth - 2),
  color: (k) => theme.color("f" + (k % 6)),
  day: (seconds) => new Date(seconds * 1000).toISOString().slice(0, 10),

  draw(part, { title, low, nights, series }) {
    part.append(make("h3", { class: "chart-title" }, title));
    const host = make("div", { role: "img", "aria-label": season.words(title, nights, series) });
    part.append(host);
    const axis = {
      stroke: () => theme.color("ink"), font: "12px system-ui, sans-serif",
      grid: { stroke: () => theme.color("line"), width: 1 }, ticks: { stroke: () => theme.color("line"), width: 1 },
    };
    season.charts.push(new uPlot({
      width: season.width(), height: season.height, legend: { show: false }, cursor: { show: false }, padding: [10, 44, 0, 0],
      tzDate: (seconds) => uPlot.tzDate(new Date(seconds * 1000), "Etc/UTC"),
      scales: { x: { range: () => season.room(nights[0], nights.at(-1), 3 * 86400) }, y: { range: (u, from, to) => season.limits(series, low, from, to) } },
      axes: [{ ...axis, size: 34, values: (u, days) => days.map(season.day), space: 95 }, { ...axis, size: 62 }],
      series: [{}, ...series.map((one, k) => ({
        label: one.name, paths: low === null ? undefined : uPlot.paths.stepped({ align: 1 }), stroke: () => season.color(k), width: 1.5, spanGaps: true,
        points: { show: true, size: 7, stroke: () => season.color(k), fill: () => season.color(k) },
      }))],
      hooks: { draw: [(u) => season.errors(u, nights, series)] },
    }, [nights, ...series.map((one) => one.values)], host));
    if (series.length > 1) {
      part.append(make("p", { class: "legend" }, ...series.map((one, k) => {
        const dot = makeSVG("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" });
        dot.append(makeSVG("circle", { cx: 8, cy: 8, r: 5, fill: `var(--f${k % 6})` }));
        return make("span", {}, dot, make("bdi", {}, one.name));
      })));
    }
  },

  // words tells a chart to those who do not see it; the table beside has the figures.
  words(title, nights, series) {
    const ends = nights.length > 1 ? `from ${season.day(nights[0])} to ${season.day(nights.at(-1))}` : `on ${season.day(nights[0])}`;
    return `${title}, ${ends}` + (series.length > 1 ? ": " + series.map((one) => one.name).join(", ") : "");
  },

  room(from, to, least) {
    if (from === null) return [0, 1];
    const beside = Math.max(0.04 * (to - from), least);
    return [from - beside, to + beside];
  },

  // limits hold the bars of error, too.
  limits(series, low, from, to) {
    for (const one of series) {
      one.values.forEach((value, i) => {
        if (value === null || !one.errors || one.errors[i] === null) return;
        from = Math.min(from, value - one.errors[i]);
        to = Math.max(to, value + one.errors[i]);
      });
    }
    const range = season.room(from, to, 1e-6 + 0.04 * Math.abs(to));
    return low === null ? range : [low, range[1]];
  },

  errors(u, nights, series) {
    series.forEach((one, k) => {
      if (!one.errors) return;
      u.ctx.save();
      u.ctx.strokeStyle = season.color(k);
      u.ctx.lineWidth = 1.2 * devicePixelRatio;
      u.ctx.beginPath();
      one.values.forEach((value, i) => {
        if (value === null || one.errors[i] === null) return;
        const x = u.valToPos(nights[i], "x", true);
        u.ctx.moveTo(x, u.valToPos(value - one.errors[i], "y", true));
        u.ctx.lineTo(x, u.valToPos(value + one.errors[i], "y", true));
      });
      u.ctx.stroke();
      u.ctx.restore();
    });
  },
};

for (const element of document.querySelectorAll(".scripted")) element.hidden = false;
theme.start();
season.start();
document.documentElement.dataset.ready = "yes";
