// Panels: one a group, any two figures over time or against each other, or how
// often each value of one comes; the group's limits as lines.
const panels = {
  keys: ["time", "transparency", "fwhm", "hfd", "ellipticity", "coherence", "sky", "stars", "weight", "airmass", "moonAlt", "sunAlt", "ambient", "focus"],
  size: { w: 400, h: 250, left: 56, right: 10, top: 10, bottom: 38 },

  start() {
    const known = panels.keys.filter((key) => night.subs.some((sub) => panels.read(key, sub) !== null));
    for (const [id, first] of [["panel-up", "fwhm"], ["panel-across", "time"]]) {
      const options = known.filter((key) => id === "panel-across" || key !== "time").map((key) => make("option", { value: key }, panels.name(key)));
      if (id === "panel-across") options.push(make("option", { value: "count" }, "how often (histogram)"));
      byId(id).append(...options);
      byId(id).value = known.includes(first) ? first : known[0] ?? "";
      byId(id).addEventListener("change", panels.draw);
    }
    byId("panel-same").addEventListener("change", panels.draw);
    byId("panel-list").addEventListener("click", (event) => {
      const mark = event.target.closest("[data-sub]");
      if (mark) table.goTo(Number(mark.dataset.sub));
    });
    marks.changed.push(panels.draw);
    panels.draw();
  },

  name: (key) => (key === "time" ? "time" : figures.heading(key)),
  read: (key, sub) => (key === "time" ? sub.start : sub[key]),
  // words of a time give its date where the axis spans days, those of a figure the decimals
  // that tell the axis' ticks apart.
  words(key, x, [low, high] = [x, x]) {
    if (key === "count") return String(x);
    if (key !== "time") return high > low ? panels.tick(key, x, panels.step(key, [low, high])) : figures.number(key, x);
    const written = new Date(x * 1000).toISOString();
    return high - low > day ? written.slice(5, x % day ? 16 : 10).replace("T", " ") : written.slice(11, 16);
  },

  draw() {
    const up = byId("panel-up").value;
    const across = byId("panel-across").value;
    if (!up || !across) return;
    const same = byId("panel-same").checked;
    const everything = { up: panels.range(up, night.subs, same), across: across === "count" ? null : panels.range(across, night.subs, true) };
    byId("panel-list").replaceChildren(...night.groups.map((group, g) => {
      const subs = night.subs.filter((sub) => sub.group === g);
      const drawn = subs.filter((sub) => panels.read(up, sub) !== null && (across === "count" || panels.read(across, sub) !== null));
      const svg = across === "count" ? panels.histogram(g, up, drawn, same ? everything.up : panels.range(up, drawn, true, g))
        : panels.scatter(g, up, across, drawn, same ? everything.up : panels.range(up, drawn, true, g), same ? everything.across : panels.range(across, drawn, true));
      const missing = subs.length - drawn.length;
      const lacking = across === "time" ? "time or no such figure" : "such figure";
      return make("figure", {}, drawn.length ? svg : "", make("figcaption", {}, make("b", {}, make("bdi", {}, group)),
        missing ? `${missing} of ${plural(subs.length, "sub")} ${missing === 1 ? "has" : "have"} no ${lacking}.` : ""));
    }));
  },

  // range is the ends of an axis, with a little room, and with the limits of a
  // group in it where they are near.
  range(key, subs, wanted, group) {
    const values = subs.map((sub) => panels.read(key, sub)).filter((v) => v !== null);
    if (!wanted || !values.length) return [0, 1];
    let [low, high] = [Math.min(...values), Math.max(...values)];
    for (const limit of (group === undefined ? [] : night.lines[group][key] ?? [])) {
      if (limit !== null && limit > low - (high - low) && limit < high + (high - low || high)) [low, high] = [Math.min(low, limit), Math.max(high, limit)];
    }
    const room = 0.06 * (high - low) || (key === "time" ? 600 : 0.05 * Math.abs(high)) || 1;
    return [low - room, high + room];
  },

  frame(label, upName, acrossName) {
    const { w, h, left, bottom, top, right } = panels.size;
    const svg = makeSVG("svg", { viewBox: `0 0 ${w} ${h}`, role: "img", "aria-label": label });
    svg.append(makeSVG("rect", { x: left, y: top, width: w - left - right, height: h - top - bottom, fill: "none", stroke: "var(--line)" }));
    panels.text(svg, upName, { x: 12, y: (h - bottom + top) / 2, "text-anchor": "middle", transform: `rotate(-90 12 ${(h - bottom + top) / 2})` });
    panels.text(svg, acrossName, { x: (w + left) / 2, y: h - 4, "text-anchor": "middle" });
    return svg;
  },

  text(svg, words, attributes) {
    const text = makeSVG("text", { "font-size": 12, fill: "currentColor", ...attributes });
    text.textContent = words;
    svg.append(text);
  },

  // tick is a figure at an axis, with more decimals than it has elsewhere where neighbours need them.
  tick(key, x, step) {
    const { digits } = night.figures[key];
    const places = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    return places > digits ? x.toFixed(places) : figures.number(key, x);
  },

  // step is the round distance of a handful of ticks within a range.
  step(key, [low, high]) {
    const raw = (high - low) / 4;
    const unit = key === "time" ? 300 : 10 ** Math.floor(Math.log10(raw));
    return (key === "time" ? [1, 2, 3, 6, 12, 24, 48, 144] : [1, 2, 5, 10]).map((k) => k * unit).find((s) => s >= raw) ?? Math.ceil(raw / day) * day;
  },

  ticks(key, [low, high]) {
    const step = panels.step(key, [low, high]);
    const out = [];
    for (let v = Math.ceil(low / step) * step; v <= high; v += step) out.push(v);
    return out;
  },

  axes(svg, up, upRange, across, acrossRange) {
    const { w, h, left, bottom, right, top } = panels.size;
    const x = (v) => left + ((v - acrossRange[0]) / (acrossRange[1] - acrossRange[0])) * (w - left - right);
    const y = (v) => h - bottom - ((v - upRange[0]) / (upRange[1] - upRange[0])) * (h - top - bottom);
    for (const v of panels.ticks(up, upRange)) {
      svg.append(makeSVG("line", { x1: left, x2: w - right, y1: y(v), y2: y(v), stroke: "var(--line)" }));
      panels.text(svg, panels.words(up, v, upRange), { x: left - 5, y: y(v) + 4, "text-anchor": "end" });
    }
    for (const v of panels.ticks(across, acrossRange)) {
      panels.text(svg, panels.words(across, v, acrossRange), { x: x(v), y: h - bottom + 14, "text-anchor": "middle" });
    }
    return { x, y };
  },

  // limits draws a group's limits of a figure, along the other axis.
  limits(svg, g, key, place, upright) {
    const { w, h, left, bottom, right, top } = panels.size;
    const [doubtful, cull] = night.lines[g][key] ?? [null, null];
    for (const [limit, verdict, dash] of [[doubtful, "doubtful", "5 4"], [cull, "cull", ""]]) {
      if (limit === null) continue;
      const at = place(limit);
      const inside = upright ? at > left && at < w - right : at > top && at < h - bottom;
      if (!inside) continue;
      const line = makeSVG("line", upright ? { x1: at, x2: at, y1: top, y2: h - bottom } : { x1: left, x2: w - right, y1: at, y2: at });
      line.setAttribute("stroke", `var(--${verdict})`);
      if (dash) line.setAttribute("stroke-dasharray", dash);
      svg.append(line);
      panels.text(svg, verdict, upright ? { x: at + 3, y: top + 11, "font-size": 10 } : { x: w - right - 3, y: at - 3, "text-anchor": "end", "font-size": 10 });
    }
  },

  scatter(g, up, across, subs, upRange, acrossRange) {
    const svg = panels.frame(`${night.groups[g]}: ${panels.name(up)} over ${panels.name(across)}, ${plural(subs.length, "sub")}`, panels.name(up), across === "time" ? "time, UTC" : panels.name(across));
    const { x, y } = panels.axes(svg, up, upRange, across, acrossRange);
    panels.limits(svg, g, up, y, false);
    panels.limits(svg, g, across, x, true);
    for (const sub of subs) {
      const color = `var(--${shapes.colorName(sub.filter)})`;
      const mark = makeSVG("g", { transform: `translate(${x(panels.read(across, sub)).toFixed(1)} ${y(panels.read(up, sub)).toFixed(1)}) scale(4)`, "data-sub": sub.order });
      const title = makeSVG("title");
      title.textContent = `${sub.name}: ${sub.verdict}, ${panels.name(up)} ${panels.words(up, panels.read(up, sub))}`;
      mark.append(title, ...shapes.sign(sub.filter, sub.verdict, color).children);
      svg.append(mark);
    }
    return svg;
  },

  histogram(g, key, subs, range) {
    const { h, bottom } = panels.size;
    const bins = Math.max(5, Math.min(24, Math.ceil(2 * Math.sqrt(subs.length))));
    const counts = Array.from({ length: bins }, () => ({ keep: 0, doubtful: 0, cull: 0, "not judged": 0 }));
    for (const sub of subs) {
      const at = Math.floor(((panels.read(key, sub) - range[0]) / (range[1] - range[0])) * bins);
      counts[Math.max(0, Math.min(bins - 1, at))][sub.verdict]++;
    }
    const high = Math.max(1, ...counts.map((c) => c.keep + c.doubtful + c.cull));
    const svg = panels.frame(`${night.groups[g]}: how often each ${panels.name(key)} comes, ${plural(subs.length, "sub")}`, "subs", panels.name(key));
    const { x, y } = panels.axes(svg, "count", [0, high * 1.08], key, range);
    counts.forEach((c, k) => {
      const x0 = x(range[0] + ((range[1] - range[0]) * k) / bins) + 0.5;
      const x1 = x(range[0] + ((range[1] - range[0]) * (k + 1)) / bins) - 0.5;
      let base = 0;
      for (const verdict of ["keep", "doubtful", "cull"]) {
        if (!c[verdict]) continue;
        const bar = makeSVG("rect", { x: x0, width: x1 - x0, y: y(base + c[verdict]), height: y(base) - y(base + c[verdict]), stroke: `var(--${verdict})`, fill: verdict === "keep" ? "var(--keep)" : "none" });
        if (verdict === "cull") svg.append(makeSVG("path", { d: `M${x0},${y(base)}L${x1},${y(base + c[verdict])}`, stroke: "var(--cull)" }));
        const title = makeSVG("title");
        title.textContent = `${c[verdict]} ${verdict}`;
        bar.append(title);
        svg.append(bar);
        base += c[verdict];
      }
    });
    svg.append(makeSVG("line", { x1: panels.size.left, x2: panels.size.w - panels.size.right, y1: h - bottom, y2: h - bottom, stroke: "currentColor" }));
    panels.limits(svg, g, key, x, true);
    return svg;
  },
};
