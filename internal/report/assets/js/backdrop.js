// What lies behind the marks of the timeline: twilight, Moon, events.
const backdrop = {
  // kinds of bright sky, when they lasted and which subs they met; each has a
  // pattern of its own.
  kinds: [
    { name: "twilight (Sun above −18°)", slope: 1, spans: night.twilight, holds: (sub) => sub.sunAlt !== null && sub.sunAlt > -18 },
    { name: "Moon up", slope: -1, spans: night.moonUp, holds: (sub) => sub.moonAlt !== null && sub.moonAlt > 0 },
  ],

  paint(u, row) {
    const context = u.ctx;
    context.save();
    context.beginPath();
    context.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    context.clip();
    for (const kind of backdrop.kinds) {
      context.fillStyle = context.createPattern(backdrop.tile(kind.slope), "repeat");
      for (const [from, to] of timeline.sequence() ? backdrop.runs(kind.holds) : kind.spans) {
        const x0 = u.valToPos(from, "x", true);
        context.fillRect(x0, u.bbox.top, u.valToPos(to, "x", true) - x0, u.bbox.height);
      }
    }
    if (row === 0) backdrop.events(u);
    context.restore();
  },

  // runs joins neighbouring subs that have a property, where subs stand one after
  // the other.
  runs(holds) {
    const runs = [];
    timeline.subs.forEach((i, k) => {
      if (!holds(night.subs[i])) return;
      const x = timeline.xs[k];
      if (runs.length && runs.at(-1)[1] === x - 0.5) runs.at(-1)[1] = x + 0.5;
      else runs.push([x - 0.5, x + 0.5]);
    });
    return runs;
  },

  // tile is a square of slanting lines.
  tile(slope) {
    const size = Math.round(8 * devicePixelRatio);
    const canvas = make("canvas", { width: size, height: size });
    const context = canvas.getContext("2d");
    context.strokeStyle = theme.color("quiet");
    context.globalAlpha = 0.25;
    context.lineWidth = devicePixelRatio;
    context.beginPath();
    for (const shift of [-size, 0, size]) {
      context.moveTo(shift - 1, slope > 0 ? size + 1 : -1);
      context.lineTo(shift + size + 1, slope > 0 ? -1 : size + 1);
    }
    context.stroke();
    return canvas;
  },

  // events are brackets along the upper edge of the first chart.
  events(u) {
    const context = u.ctx;
    const unit = devicePixelRatio;
    context.strokeStyle = context.fillStyle = theme.color("cull");
    context.lineWidth = 2 * unit;
    context.font = `${12 * unit}px system-ui, sans-serif`;
    context.textBaseline = "top";
    for (const event of night.events) {
      const [from, to] = backdrop.place(event);
      if (from === undefined) continue;
      const x0 = u.valToPos(from, "x", true);
      const x1 = u.valToPos(to, "x", true);
      const top = u.bbox.top + unit;
      context.beginPath();
      context.moveTo(x0, top + 7 * unit);
      context.lineTo(x0, top);
      context.lineTo(x1, top);
      context.lineTo(x1, top + 7 * unit);
      context.stroke();
      const words = [event.words, event.cause].find((text) => context.measureText(text).width < x1 - x0 - 8 * unit);
      if (words) context.fillText(words, x0 + 5 * unit, top + 4 * unit);
    }
  },

  // place is where an event begins and ends on the axis; where subs stand one
  // after the other, from its first sub to its last.
  place(event) {
    if (!timeline.sequence()) return [event.start, event.end];
    const within = timeline.xs.filter((x, k) => {
      const start = night.subs[timeline.subs[k]].start;
      return start !== null && start >= event.start && start < event.end;
    });
    return within.length ? [within[0] - 0.4, within.at(-1) + 0.4] : [];
  },

  legend() {
    const entries = backdrop.kinds.filter((kind) => kind.spans.length || night.subs.some(kind.holds)).map((kind) => {
      const swatch = make("canvas", { class: "swatch", width: 26, height: 16, "aria-hidden": "true" });
      const context = swatch.getContext("2d");
      context.fillStyle = context.createPattern(backdrop.tile(kind.slope), "repeat");
      context.fillRect(0, 0, 26, 16);
      return [swatch, kind.name];
    });
    if (night.events.length) {
      const sign = makeSVG("svg", { viewBox: "0 0 16 16", "aria-hidden": "true" });
      sign.append(makeSVG("path", { d: "M1,12V5H15V12", fill: "none", stroke: "var(--cull)", "stroke-width": "2" }));
      entries.push([sign, "event"]);
    }
    return entries;
  },
};
