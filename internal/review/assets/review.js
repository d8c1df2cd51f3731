"use strict";
// What the served page has more: the frames at any zoom, stars as measured, two
// subs compared in place, marks that are kept by the server, and moving.

// ask fetches from the server; a refusal is an Error with the server's words.
async function ask(path, body) {
  let response;
  try {
    response = await fetch(path, body === undefined ? {} : {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body),
    });
  } catch {
    throw new Error("The review has stopped: start “fitsqa review” again and open the address that it prints. Marks up to here are kept.");
  }
  if (!response.ok) {
    const told = await response.json().catch(() => ({}));
    throw new Error(told.error || "The server answered " + response.status);
  }
  return response;
}
const askJSON = async (path, body) => (await ask(path, body)).json();

// notice is the line at the foot of the window that tells what went wrong.
const notice = {
  box: make("div", { id: "notice", role: "alert", hidden: "" }),
  show(text) {
    notice.box.textContent = text;
    notice.box.hidden = !text;
    (byId("viewer").open ? byId("viewer") : document.body).append(notice.box); // above an open dialog
  },
};

// --- marks: the server keeps them, and tells every open page ---

marks.keep = async (list) => {
  const sent = Object.fromEntries(list.map((i) => [i, marks.of.get(i) || ""]));
  try {
    const { refused } = await askJSON("marks", { marks: sent });
    const reasons = Object.entries(refused);
    if (reasons.length) {
      server.take(reasons.map(([i]) => Number(i)), server.marks);
      notice.show(`Not marked: ${reasons.map(([i, why]) => `${night.subs[i].name}: ${why}`).slice(0, 3).join("; ")}`);
    } else {
      notice.show("");
    }
  } catch (error) {
    server.take(list, server.marks); // as the server last told
    notice.show("Not kept: " + error.message);
  }
};

const server = {
  marks: new Map(), // as they are on disk
  moved: new Set(),

  start() {
    const changes = new EventSource("changes");
    let first = true;
    changes.onmessage = (event) => {
      const told = JSON.parse(event.data);
      if (first) {
        server.marks = new Map(Object.entries(told.marks).map(([i, m]) => [Number(i), m]));
        server.moved = new Set(Object.keys(told.moved).map(Number));
        server.take(night.subs.map((sub) => sub.order), server.marks);
        server.showMoved(night.subs.map((sub) => sub.order));
        document.documentElement.dataset.review = "yes";
        first = false;
        notice.show("");
        return;
      }
      const list = Object.keys(told.marks).map(Number);
      for (const i of list) told.marks[i] ? server.marks.set(i, told.marks[i]) : server.marks.delete(i);
      server.take(list, server.marks);
      const moved = Object.keys(told.moved).map(Number);
      for (const i of moved) told.moved[i] ? server.moved.add(i) : server.moved.delete(i);
      server.showMoved(moved);
    };
    changes.onerror = () => {
      first = true; // the browser asks again; then all is told anew
      notice.show("No word from the review: it may have been stopped. Start “fitsqa review” again; marks that were made before are kept.");
    };
  },

  // take shows marks as the server has them.
  take(list, from) {
    const other = list.filter((i) => (marks.of.get(i) || "") !== (from.get(i) || ""));
    for (const i of other) from.get(i) ? marks.of.set(i, from.get(i)) : marks.of.delete(i);
    if (other.length) marks.tell(other);
  },

  showMoved(list) {
    for (const i of list) {
      for (const id of ["sub-", "picture-"]) byId(id + i).classList.toggle("moved", server.moved.has(i));
    }
    mover.count();
  },
};

// --- the frame: tiles on a canvas ---

// affine maps are [a, b, c, d, e, f]: x' = a x + b y + c, y' = d x + e y + f.
const affine = {
  identity: [1, 0, 0, 0, 1, 0],
  times: (m, n) => [
    m[0] * n[0] + m[1] * n[3], m[0] * n[1] + m[1] * n[4], m[0] * n[2] + m[1] * n[5] + m[2],
    m[3] * n[0] + m[4] * n[3], m[3] * n[1] + m[4] * n[4], m[3] * n[2] + m[4] * n[5] + m[5],
  ],
  inverse(m) {
    const det = m[0] * m[4] - m[1] * m[3];
    const [a, b, d, e] = [m[4] / det, -m[1] / det, -m[3] / det, m[0] / det];
    return [a, b, -(a * m[2] + b * m[5]), d, e, -(d * m[2] + e * m[5])];
  },
  at: (m, x, y) => [m[0] * x + m[1] * y + m[2], m[3] * x + m[4] * y + m[5]],
};

const bench = {
  frames: new Map(), // sub -> promise of what the server tells of its frame
  known: new Map(), // sub -> the same, once it is there
  tiles: new Map(), // key -> { bitmap } or { waiting }
  stars: new Map(), // sub -> stars as measured
  stretches: new Map(), // group -> stretch
  view: null, // { x, y: frame coordinates at the middle, scale: screen px per frame px; 0: fit }
  other: -1, // the sub compared with
  mode: "one", // "one", "flip" (the other is shown) or "beside"
  showStars: false,
  star: null, // the star that was clicked

  start() {
    const canvas = (bench.canvas = make("canvas", { id: "bench", tabindex: "0", role: "img", "aria-label": "The frame. Drag or use Alt with the arrow keys to move, plus and minus to zoom." }));
    const bar = make("div", { class: "bench-bar" });
    const button = (text, action, attributes = {}) => {
      const b = make("button", { type: "button", ...attributes }, text);
      b.addEventListener("click", action);
      return b;
    };
    bench.zoomWords = make("output", { "aria-live": "off" });
    bar.append(
      button("Fit (0)", () => bench.zoomTo(0)), button("100 % (1)", () => bench.zoomTo(1)),
      button("−", () => bench.zoomBy(0.5), { "aria-label": "Smaller" }), button("+", () => bench.zoomBy(2), { "aria-label": "Larger" }), bench.zoomWords,
      (bench.starsButton = button("Stars (s)", bench.toggleStars, { "aria-pressed": "false", id: "bench-stars" })),
      (bench.invertButton = button("Invert (i)", bench.invert, { "aria-pressed": "false", id: "bench-invert" })),
      make("label", {}, "Compare with ", (bench.otherSelect = make("select", { id: "bench-other" },
        make("option", { value: "" }, "nothing"), make("option", { value: "best" }, "the group's best"), make("option", { value: "before" }, "the one before")))),
      (bench.flipButton = button("Flip (f)", bench.flip, { id: "bench-flip", disabled: "", "aria-pressed": "false" })),
      (bench.besideButton = button("Side by side (b)", bench.beside, { id: "bench-beside", disabled: "", "aria-pressed": "false" })));
    const sliders = make("div", { class: "bench-bar" });
    bench.sliders = {};
    for (const [key, text] of [["black", "Black"], ["mid", "Middle"], ["white", "White"]]) {
      const input = make("input", { type: "range", min: "0", max: "1", step: "0.001", id: "bench-" + key });
      input.addEventListener("input", () => bench.slide(key, Number(input.value)));
      bench.sliders[key] = input;
      sliders.append(make("label", {}, text + " ", input));
    }
    sliders.append(button("As at first", bench.autoStretch), make("span", { class: "hint" }, "One stretch for all subs of the group."));
    bench.words = make("p", { id: "bench-words", role: "status", "aria-live": "polite" });
    bench.profile = make("div", { id: "bench-profile", hidden: "" });
    const box = make("div", { class: "bench" }, bar, make("div", { class: "bench-canvas" }, canvas), sliders, bench.words);
    byId("viewer").querySelector(".viewer-pictures").before(box);
    byId("viewer").querySelector(".viewer-side").append(bench.profile);
    byId("viewer").classList.add("with-bench");
    bench.otherSelect.addEventListener("change", () => bench.compare());
    canvas.addEventListener("pointerdown", bench.grab);
    canvas.addEventListener("wheel", bench.wheel, { passive: false });
    canvas.addEventListener("dblclick", (e) => bench.zoomBy(2, ...bench.place(e)));
    byId("viewer").addEventListener("keydown", bench.key, true);
    new ResizeObserver(bench.draw).observe(canvas);
    theme.changed.push(bench.draw);
    const show = viewer.show;
    viewer.show = (i) => {
      const from = viewer.index;
      show(i);
      bench.show(i, from);
    };
    byId("viewer").addEventListener("close", () => notice.show(notice.box.textContent));
  },

  // frame is what the server tells of a sub's frame; asking makes it read it.
  frame(i) {
    if (!bench.frames.has(i)) {
      const asked = askJSON("frame/" + i).then((told) => {
        told.inverse = told.transform.length ? affine.inverse(told.transform) : null;
        bench.known.set(i, told);
        return told;
      });
      asked.catch(() => bench.frames.delete(i));
      bench.frames.set(i, asked);
    }
    return bench.frames.get(i);
  },

  async show(i, from) {
    bench.asked = performance.now();
    bench.star = null;
    bench.showProfile(null);
    bench.words.textContent = "";
    bench.at = i;
    if (bench.otherSelect.value) bench.findOther();
    let told;
    try {
      told = await bench.frame(i);
    } catch (error) {
      if (bench.at === i) {
        bench.words.textContent = error.message;
        bench.clear();
      }
      return;
    }
    if (bench.at !== i) return; // the user has gone on
    const group = night.subs[i].group;
    if (!bench.stretches.has(group)) bench.stretches.set(group, { ...told.auto });
    bench.keepPlace(i, from);
    bench.showSliders();
    if (bench.showStars) bench.findStars();
    bench.draw();
    bench.words.textContent = told.moved ? "This file lies in its culled folder." : "";
  },

  // keepPlace keeps the same stars in the middle from sub to sub.
  keepPlace(i, from) {
    const to = bench.known.get(i);
    const was = bench.known.get(from);
    if (!bench.view || !bench.view.scale) {
      bench.view = { x: to.width / 2, y: to.height / 2, scale: 0 };
    } else if (was && was !== to && was.inverse && to.inverse && night.subs[i].target === night.subs[from].target) {
      [bench.view.x, bench.view.y] = affine.at(affine.times(to.inverse, was.transform), bench.view.x, bench.view.y);
    }
  },

  // prefetch has the next sub read, and its tiles drawn, before it is asked for.
  async prefetch(i) {
    const order = sheet.order();
    const next = order[(order.indexOf(i) + 1) % order.length];
    if (next === undefined || next === i) return;
    try {
      const told = await bench.frame(next);
      if (bench.at !== i) return;
      if (!bench.stretches.has(night.subs[next].group)) bench.stretches.set(night.subs[next].group, { ...told.auto });
      const size = bench.size();
      bench.each(next, bench.matrix(next, { x: 0, y: 0, w: size.w, h: size.h }, true), { x: 0, y: 0, w: size.w, h: size.h }, (z, x, y) => bench.tile(next, z, x, y));
    } catch {
      // it is told when the sub is shown
    }
  },

  size() {
    const box = bench.canvas.getBoundingClientRect();
    return { w: Math.max(1, box.width), h: Math.max(1, box.height), unit: devicePixelRatio || 1 };
  },

  fitScale(told, w, h) {
    return Math.min(w / told.width, h / told.height);
  },

  scale(w, h) {
    const told = bench.known.get(bench.at);
    return bench.view.scale || bench.fitScale(told, w, h);
  },

  // matrix maps a sub's pixels to a box of the screen, in CSS px; row 0 is at the
  // bottom. Another sub is laid on the one that is shown; a sub that comes next
  // is placed as it will be.
  matrix(i, box, next) {
    const main = bench.known.get(bench.at);
    const told = bench.known.get(i);
    const scale = bench.scale(box.w, box.h);
    let { x, y } = bench.view;
    if (!bench.view.scale) [x, y] = [main.width / 2, main.height / 2];
    const base = [scale, 0, box.x + box.w / 2 - scale * x, 0, -scale, box.y + box.h / 2 + scale * y];
    if (i === bench.at || !main.inverse || !told.inverse || night.subs[i].target !== night.subs[bench.at].target) return base;
    const onto = affine.times(main.inverse, told.transform);
    if (!next) return affine.times(base, onto);
    const [nx, ny] = bench.view.scale ? affine.at(affine.inverse(onto), x, y) : [told.width / 2, told.height / 2];
    return [scale, 0, box.x + box.w / 2 - scale * nx, 0, -scale, box.y + box.h / 2 + scale * ny];
  },

  // each calls back for every tile of a sub that a box shows.
  each(i, m, box, call) {
    const told = bench.known.get(i);
    const unit = bench.size().unit;
    const perPixel = Math.hypot(m[0], m[3]) * unit;
    const z = Math.max(0, Math.min(told.levels.length - 1, Math.floor(Math.log2(1 / perPixel) + 0.25)));
    const back = affine.inverse(m);
    const corners = [[box.x, box.y], [box.x + box.w, box.y], [box.x, box.y + box.h], [box.x + box.w, box.y + box.h]].map(([x, y]) => affine.at(back, x, y));
    const reach = told.tile * 2 ** z;
    const [w, h] = told.levels[z];
    const range = (k, n) => [Math.max(0, Math.floor(Math.min(...corners.map((c) => c[k])) / reach)),
      Math.min(Math.ceil(n / told.tile) - 1, Math.floor(Math.max(...corners.map((c) => c[k])) / reach))];
    const [x0, x1] = range(0, w);
    const [y0, y1] = range(1, h);
    for (let y = y0; y <= y1; y++) for (let x = x0; x <= x1; x++) call(z, x, y);
  },

  stretchOf: (i) => bench.stretches.get(night.subs[i].group) || bench.known.get(i).auto,

  key4(i, z, x, y) {
    const s = bench.stretchOf(i);
    return `frame/${i}/tile/${z}/${x}/${y}?black=${s.black}&white=${s.white}&mid=${s.mid}&invert=${s.invert ? 1 : 0}`;
  },

  // tile is a tile's bitmap if it is here; else it is sent for.
  tile(i, z, x, y) {
    const key = bench.key4(i, z, x, y);
    const have = bench.tiles.get(key);
    if (have) {
      bench.tiles.delete(key);
      bench.tiles.set(key, have); // the last used last
      return have.bitmap;
    }
    const entry = { waiting: true };
    bench.tiles.set(key, entry);
    ask(key).then((r) => r.blob()).then(createImageBitmap).then((bitmap) => {
      entry.bitmap = bitmap;
      entry.waiting = false;
      bench.draw();
    }).catch((error) => {
      bench.tiles.delete(key);
      if (i === bench.at || i === bench.other) bench.words.textContent = error.message;
    });
    if (bench.tiles.size > 400) {
      for (const [old, e] of bench.tiles) {
        if (bench.tiles.size <= 300) break;
        if (!e.waiting) {
          e.bitmap?.close();
          bench.tiles.delete(old);
        }
      }
    }
    return undefined;
  },

  draw() {
    if (bench.drawing) return;
    bench.drawing = requestAnimationFrame(() => {
      bench.drawing = 0;
      bench.paint();
    });
  },

  clear() {
    const context = bench.canvas.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, bench.canvas.width, bench.canvas.height);
  },

  paint() {
    if (!byId("viewer").open || !bench.known.has(bench.at) || viewer.index !== bench.at || !bench.view) return;
    const { w, h, unit } = bench.size();
    if (bench.canvas.width !== Math.round(w * unit) || bench.canvas.height !== Math.round(h * unit)) {
      bench.canvas.width = Math.round(w * unit);
      bench.canvas.height = Math.round(h * unit);
    }
    bench.clear();
    const both = bench.other >= 0 && bench.known.has(bench.other);
    if (both && bench.mode === "beside") {
      bench.paintSub(bench.at, { x: 0, y: 0, w: w / 2 - 2, h });
      bench.paintSub(bench.other, { x: w / 2 + 2, y: 0, w: w / 2 - 2, h });
    } else {
      bench.paintSub(both && bench.mode === "flip" ? bench.other : bench.at, { x: 0, y: 0, w, h });
    }
    const percent = 100 * bench.scale(w, h) * unit;
    bench.zoomWords.textContent = percent.toFixed(percent < 10 ? 1 : 0) + " %";
    bench.canvas.dataset.shown = String(both && bench.mode === "flip" ? bench.other : bench.at);
    clearTimeout(bench.resting);
    if (bench.canvas.dataset.missing === "0") { // the next sub is drawn as this one is looked at, once all of this one is here
      bench.resting = setTimeout(() => bench.prefetch(bench.at), 50);
    }
  },

  paintSub(i, box) {
    const context = bench.canvas.getContext("2d");
    const told = bench.known.get(i);
    const m = bench.matrix(i, box);
    const unit = bench.size().unit;
    context.save();
    context.scale(unit, unit);
    context.beginPath();
    context.rect(box.x, box.y, box.w, box.h);
    context.clip();
    context.transform(m[0], m[3], m[1], m[4], m[2], m[5]);
    context.imageSmoothingEnabled = Math.hypot(m[0], m[3]) * unit < 1;
    let missing = 0;
    const put = (z, x, y, bitmap) => {
      const step = 2 ** z;
      context.drawImage(bitmap, x * told.tile * step - 0.5, y * told.tile * step - 0.5, bitmap.width * step, bitmap.height * step);
    };
    const top = told.levels.length - 1;
    const small = bench.tile(i, top, 0, 0); // the smallest stands in for what is on its way
    if (small) put(top, 0, 0, small);
    bench.each(i, m, box, (z, x, y) => {
      const bitmap = z === top && x === 0 && y === 0 ? small : bench.tile(i, z, x, y);
      if (bitmap) put(z, x, y, bitmap);
      else missing++;
    });
    context.restore();
    if (i === bench.at && !missing && bench.asked) {
      bench.took = performance.now() - bench.asked; // until all of it is on the screen
      bench.asked = 0;
    }
    bench.canvas.dataset.missing = String(missing);
    if (bench.showStars && bench.stars.has(i)) bench.paintStars(i, m, box);
    bench.paintWords(i, m, box, told);
  },

  // paintWords writes which sub this is, and where north lies.
  paintWords(i, m, box, told) {
    const context = bench.canvas.getContext("2d");
    const unit = bench.size().unit;
    context.save();
    context.scale(unit, unit);
    context.font = "13px system-ui, sans-serif";
    context.lineWidth = 3;
    context.strokeStyle = "#000";
    context.fillStyle = theme.color("mark");
    const write = (text, x, y) => {
      context.strokeText(text, x, y);
      context.fillText(text, x, y);
    };
    if (bench.other >= 0) write(`${night.subs[i].name} (${night.subs[i].verdict})`, box.x + 10, box.y + 20);
    if (told.north !== null) {
      const [x, y] = [box.x + box.w - 50, box.y + 50];
      for (const [name, degrees, reach] of [["N", told.north, 26], ["E", told.east, 16]]) {
        const angle = (degrees * Math.PI) / 180;
        const length = Math.hypot(m[0], m[3]);
        const dx = (m[0] * Math.cos(angle) + m[1] * Math.sin(angle)) / length;
        const dy = (m[3] * Math.cos(angle) + m[4] * Math.sin(angle)) / length;
        for (const style of [["#000", 4], [theme.color("mark"), 2]]) {
          [context.strokeStyle, context.lineWidth] = style;
          context.beginPath();
          context.moveTo(x, y);
          context.lineTo(x + reach * dx, y + reach * dy);
          context.stroke();
        }
        context.strokeStyle = "#000";
        context.lineWidth = 3;
        write(name, x + (reach + 10) * dx - 5, y + (reach + 10) * dy + 5);
      }
    }
    context.restore();
  },

  // paintStars rings every star: whole where its shape counts, broken where it
  // does not, with a stroke along its elongation, ten times as long.
  paintStars(i, m, box) {
    const context = bench.canvas.getContext("2d");
    const { unit } = bench.size();
    const { stars, fwhm, rejected } = bench.stars.get(i);
    const scale = Math.hypot(m[0], m[3]);
    context.save();
    context.scale(unit, unit);
    context.beginPath();
    context.rect(box.x, box.y, box.w, box.h);
    context.clip();
    for (const light of rejected) {
      const [x, y] = affine.at(m, light.x, light.y);
      if (x < box.x - 30 || x > box.x + box.w + 30 || y < box.y - 30 || y > box.y + box.h + 30) continue;
      const half = Math.max(3, 0.7 * (fwhm ?? 4) * scale);
      context.strokeStyle = theme.color("left");
      context.lineWidth = 1.2;
      context.strokeRect(x - half, y - half, 2 * half, 2 * half);
      if (scale * unit >= 2) {
        context.font = "11px system-ui, sans-serif";
        context.fillStyle = theme.color("left");
        context.fillText(light.why, x + half + 2, y + 4);
      }
    }
    stars.forEach((star, k) => {
      const [x, y] = affine.at(m, star.x, star.y);
      if (x < box.x - 30 || x > box.x + box.w + 30 || y < box.y - 30 || y > box.y + box.h + 30) return;
      const radius = Math.max(4, 1.3 * (star.fwhm ?? fwhm ?? 4) * scale);
      const chosen = bench.star && bench.star.sub === i && bench.star.k === k;
      context.strokeStyle = star.left ? theme.color("left") : theme.color("mark");
      context.setLineDash(star.left ? [3, 3] : []);
      context.lineWidth = chosen ? 3 : 1.2;
      context.beginPath();
      context.arc(x, y, radius, 0, 2 * Math.PI);
      context.stroke();
      context.setLineDash([]);
      if (star.ellipticity !== null && !star.left) {
        const angle = (star.angle * Math.PI) / 180;
        const length = Math.max(2, 10 * star.ellipticity * radius) / 2;
        const dx = ((m[0] * Math.cos(angle) + m[1] * Math.sin(angle)) / scale) * length;
        const dy = ((m[3] * Math.cos(angle) + m[4] * Math.sin(angle)) / scale) * length;
        context.beginPath();
        context.moveTo(x - dx, y - dy);
        context.lineTo(x + dx, y + dy);
        context.stroke();
      }
      if (/^(saturated|blended)/.test(star.left) && scale * unit >= 1) { // most are only faint
        context.font = "11px system-ui, sans-serif";
        context.fillStyle = theme.color("left");
        context.fillText(star.left, x + radius + 2, y + 4);
      }
    });
    context.restore();
  },

  // --- moving about ---

  place(event) {
    const box = bench.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  },

  // zoomBy keeps the point of the screen where it is.
  zoomBy(factor, x, y) {
    if (!bench.view) return;
    const { w, h, unit } = bench.size();
    const old = bench.scale(w, h);
    const fit = bench.fitScale(bench.known.get(bench.at), w, h);
    const now = Math.min(4 / unit, Math.max(fit / 2, old * factor));
    const [px, py] = [(x ?? w / 2) - w / 2, (y ?? h / 2) - h / 2];
    if (!bench.view.scale) {
      const told = bench.known.get(bench.at);
      [bench.view.x, bench.view.y] = [told.width / 2, told.height / 2];
    }
    bench.view.x += px / old - px / now;
    bench.view.y -= py / old - py / now;
    bench.view.scale = now;
    bench.draw();
  },

  // zoomTo sets screen pixels per pixel of the frame; 0 fits the frame.
  zoomTo(percent) {
    if (!bench.view) return;
    if (!percent) bench.view.scale = 0;
    else bench.zoomBy(percent / bench.size().unit / bench.scale(bench.size().w, bench.size().h));
    bench.draw();
  },

  pan(dx, dy) {
    if (!bench.view) return;
    const { w, h } = bench.size();
    const scale = bench.scale(w, h);
    if (!bench.view.scale) bench.zoomBy(1);
    bench.view.x -= dx / scale;
    bench.view.y += dy / scale;
    bench.draw();
  },

  grab(event) {
    if (event.button !== 0 || !bench.view) return;
    bench.canvas.setPointerCapture(event.pointerId);
    let [x, y] = bench.place(event);
    let far = 0;
    const move = (e) => {
      const [nx, ny] = bench.place(e);
      far += Math.abs(nx - x) + Math.abs(ny - y);
      bench.pan(nx - x, ny - y);
      [x, y] = [nx, ny];
    };
    const up = (e) => {
      bench.canvas.removeEventListener("pointermove", move);
      if (far < 4) bench.pick(...bench.place(e));
    };
    bench.canvas.addEventListener("pointermove", move);
    bench.canvas.addEventListener("pointerup", up, { once: true });
  },

  wheel(event) {
    event.preventDefault();
    bench.zoomBy(Math.exp(-event.deltaY / 300), ...bench.place(event));
  },

  key(event) {
    if (event.ctrlKey || event.metaKey || event.target.matches("input, select")) return;
    const pans = { ArrowLeft: [80, 0], ArrowRight: [-80, 0], ArrowUp: [0, 80], ArrowDown: [0, -80] };
    const actions = {
      0: () => bench.zoomTo(0), 1: () => bench.zoomTo(1), 2: () => bench.zoomTo(2), 4: () => bench.zoomTo(4),
      "+": () => bench.zoomBy(2), "=": () => bench.zoomBy(2), "-": () => bench.zoomBy(0.5),
      i: bench.invert, s: bench.toggleStars, f: bench.flip, b: bench.beside,
    };
    const action = event.altKey ? pans[event.key] && (() => bench.pan(...pans[event.key])) : actions[event.key.toLowerCase()];
    if (!action) return;
    event.preventDefault();
    event.stopPropagation();
    action();
  },

  // --- stretch ---

  // slide takes a slider's place, 0 to 1, along what makes sense for the sky of
  // the sub that is shown.
  slide(key, at) {
    const told = bench.known.get(bench.at);
    if (!told) return;
    const s = { ...bench.stretchOf(bench.at) };
    if (key === "black") s.black = told.sky + told.noise * (40 * at - 20);
    if (key === "white") s.white = Math.max(s.black + told.noise, told.sky + told.noise * 10 ** (1 + 3.5 * at));
    if (key === "mid") s.mid = 0.5 * 10 ** (-3 * (1 - at));
    if (s.white <= s.black) s.white = s.black + told.noise;
    bench.setStretch(s);
  },

  setStretch(s) {
    bench.stretches.set(night.subs[bench.at].group, s);
    bench.invertButton.setAttribute("aria-pressed", String(Boolean(s.invert)));
    bench.draw();
  },

  showSliders() {
    const told = bench.known.get(bench.at);
    const s = bench.stretchOf(bench.at);
    bench.sliders.black.value = ((s.black - told.sky) / told.noise + 20) / 40;
    bench.sliders.white.value = (Math.log10(Math.max(10, (s.white - told.sky) / told.noise)) - 1) / 3.5;
    bench.sliders.mid.value = 1 + Math.log10(s.mid / 0.5) / 3;
    bench.invertButton.setAttribute("aria-pressed", String(Boolean(s.invert)));
  },

  autoStretch() {
    const told = bench.known.get(bench.at);
    if (!told) return;
    bench.setStretch({ ...told.auto });
    bench.showSliders();
  },

  invert() {
    if (bench.known.has(bench.at)) bench.setStretch({ ...bench.stretchOf(bench.at), invert: !bench.stretchOf(bench.at).invert });
  },

  // --- stars ---

  toggleStars() {
    bench.showStars = !bench.showStars;
    bench.starsButton.setAttribute("aria-pressed", String(bench.showStars));
    if (bench.showStars) bench.findStars();
    else bench.showProfile(null);
    bench.draw();
  },

  async findStars() {
    for (const i of [bench.at, bench.mode === "one" ? -1 : bench.other]) {
      if (i < 0 || bench.stars.has(i)) continue;
      bench.words.textContent = "Measuring the stars of this frame…";
      try {
        const list = await askJSON(`frame/${i}/stars`);
        bench.stars.set(i, list);
        if (bench.stars.size > 20) bench.stars.delete(bench.stars.keys().next().value);
        bench.words.textContent = `${plural(list.stars.length, "star")}; ${list.stars.filter((s) => s.left).length} whose shape does not count (broken rings); ${list.rejected.length + list.more} lights that are no stars (squares: click for the reason). Measured on the frame as it is, without its masters. Click a star for its profile.`;
      } catch (error) {
        bench.words.textContent = error.message;
      }
      bench.draw();
    }
  },

  // pick is a click: the nearest star within reach shows its profile.
  async pick(x, y) {
    const i = Number(bench.canvas.dataset.shown);
    if (!bench.showStars || !bench.stars.has(i)) return;
    const { w, h } = bench.size();
    const beside = bench.other >= 0 && bench.mode === "beside";
    const box = beside ? { x: 0, y: 0, w: w / 2 - 2, h } : { x: 0, y: 0, w, h };
    const m = bench.matrix(i, box);
    const list = bench.stars.get(i).stars;
    let nearest = -1;
    let least = 15;
    list.forEach((star, k) => {
      const [sx, sy] = affine.at(m, star.x, star.y);
      const far = Math.hypot(sx - x, sy - y);
      if (far < least) [nearest, least] = [k, far];
    });
    if (nearest < 0) {
      const light = bench.stars.get(i).rejected.find((r) => {
        const [rx, ry] = affine.at(m, r.x, r.y);
        return Math.hypot(rx - x, ry - y) < 15;
      });
      if (light) bench.words.textContent = `x ${light.x.toFixed(0)}, y ${light.y.toFixed(0)} px is no star: ${light.why}.`;
      return;
    }
    bench.star = { sub: i, k: nearest };
    bench.draw();
    try {
      bench.showProfile(list[nearest], await askJSON(`frame/${i}/stars/${nearest}`));
    } catch (error) {
      bench.words.textContent = error.message;
    }
  },

  showProfile(star, profile) {
    bench.profile.hidden = !star;
    if (!star) return;
    const words = [`x ${star.x.toFixed(1)}, y ${star.y.toFixed(1)} px`, `signal to noise ${star.snr.toFixed(0)}`,
      `FWHM ${figure(star.fwhm, 2)} px`, `ellipticity ${figure(star.ellipticity, 2)} at ${figure(star.angle, 0)}°`, `HFD ${figure(star.hfd, 2)} px`];
    if (star.left) words.push("left out of the shape figures: " + star.left);
    const svg = makeSVG("svg", { viewBox: "0 0 260 150", role: "img", "aria-label": "Light over the distance from the star's centre" });
    const high = Math.max(...profile.value, profile.peak ?? 0, 1e-9);
    const px = (r) => 8 + (244 * r) / profile.reached;
    const py = (v) => 132 - (120 * v) / high;
    profile.radius.forEach((r, k) => svg.append(makeSVG("circle", { cx: px(r).toFixed(1), cy: py(profile.value[k]).toFixed(1), r: 1.6, fill: "currentColor", opacity: 0.6 })));
    if (profile.peak !== null) {
      const points = Array.from({ length: 80 }, (_, k) => {
        const r = (profile.reached * k) / 79;
        return `${px(r).toFixed(1)},${py(profile.peak * (1 + (r / profile.core) ** 2) ** -profile.beta).toFixed(1)}`;
      });
      svg.append(makeSVG("polyline", { points: points.join(" "), fill: "none", stroke: "var(--data-2)", "stroke-width": 2 }));
    }
    svg.append(makeSVG("line", { x1: 8, x2: 252, y1: 132, y2: 132, stroke: "currentColor" }));
    const label = makeSVG("text", { x: 130, y: 147, "text-anchor": "middle", "font-size": 11, fill: "currentColor" });
    label.textContent = `0 to ${profile.reached.toFixed(0)} px from the centre`;
    svg.append(label);
    bench.profile.replaceChildren(make("h3", {}, "The star"), svg, make("p", {}, words.join(", ") + "."));
  },

  // --- two subs ---

  // findOther picks the sub to compare with, of the same group.
  findOther() {
    const { group } = night.subs[bench.at];
    let other = -1;
    if (bench.otherSelect.value === "best") {
      for (const sub of night.subs) {
        if (sub.group === group && sub.weight !== null && (other < 0 || sub.weight > night.subs[other].weight)) other = sub.order;
      }
    } else if (bench.otherSelect.value === "before") {
      const order = sheet.order().filter((i) => night.subs[i].group === group);
      other = order[order.indexOf(bench.at) - 1] ?? -1;
    }
    bench.other = other === bench.at ? -1 : other;
    const none = bench.other < 0;
    bench.flipButton.disabled = bench.besideButton.disabled = none;
    if (none) bench.setMode("one");
    else bench.frame(bench.other).then(bench.draw, (error) => {
      bench.words.textContent = night.subs[bench.other].name + ": " + error.message;
    });
    return none;
  },

  compare() {
    const none = bench.findOther();
    if (none && bench.otherSelect.value) bench.words.textContent = bench.otherSelect.value === "best" ? "This is the group's best." : "None before it in its group.";
    else if (!none) {
      const [a, b] = [bench.known.get(bench.at), bench.known.get(bench.other)];
      bench.words.textContent = `Compared with ${night.subs[bench.other].name}. F flips in place.` + (b && (!a.inverse || !b.inverse) ? " One of them is not aligned: they are laid on each other as they are." : "");
    }
    bench.draw();
  },

  setMode(mode) {
    bench.mode = bench.other < 0 ? "one" : mode;
    bench.flipButton.setAttribute("aria-pressed", String(bench.mode === "flip"));
    bench.besideButton.setAttribute("aria-pressed", String(bench.mode === "beside"));
    if (bench.showStars) bench.findStars();
    bench.draw();
  },

  flip() {
    if (!bench.otherSelect.value) {
      bench.otherSelect.value = "best";
      bench.compare();
    }
    bench.setMode(bench.mode === "flip" ? "one" : "flip");
  },

  beside() {
    if (!bench.otherSelect.value) {
      bench.otherSelect.value = "best";
      bench.compare();
    }
    bench.setMode(bench.mode === "beside" ? "one" : "beside");
  },
};

// --- moving aside ---

const mover = {
  start() {
    const option = (value, text) => make("option", { value }, text);
    mover.take = make("select", { id: "move-take" }, option("cull", "what is culled"), option("doubtful", "culled and doubtful"), option("own", "only my own culls"));
    mover.cause = make("select", { id: "move-cause" }, option("", "any"), ...[...byId("by-cause").options].slice(1).map((o) => option(o.value, o.value)));
    mover.filter = make("select", { id: "move-filter" }, option("", "any"), ...night.filters.map((f) => option(f, f)));
    mover.look = make("button", { type: "button", id: "move-look" }, "Show what would move");
    mover.back = make("button", { type: "button", id: "move-undo" }, "Bring all back");
    mover.box = make("div", { id: "move-list", hidden: "" });
    mover.words = make("p", { id: "move-words", role: "status", "aria-live": "polite" });
    const section = make("section", { id: "moving", "aria-labelledby": "moving-title" },
      make("h2", { id: "moving-title" }, "Move files aside"),
      make("p", { class: "note" }, "Files are renamed into folders “culled” beside them, never copied, overwritten or deleted. Keep a copy of the night before you move originals. What was moved from here can be brought back."),
      make("div", { class: "controls" }, make("label", {}, "Take ", mover.take), make("label", {}, "Cause ", mover.cause), make("label", {}, "Filter ", mover.filter), mover.look, mover.back),
      mover.words, mover.box);
    byId("pictures").after(section);
    document.querySelector("nav.contents li:nth-child(4)")?.after(make("li", {}, make("a", { href: "#moving" }, "Move")));
    mover.look.addEventListener("click", mover.plan);
    mover.back.addEventListener("click", mover.undo);
    for (const select of [mover.take, mover.cause, mover.filter]) select.addEventListener("change", mover.hide);
    marks.changed.push(mover.hide);
    marks.changed.push(mover.count);
    mover.count();
  },

  hide() {
    mover.box.hidden = true;
  },

  count() {
    if (mover.back) mover.back.disabled = server.moved.size === 0;
  },

  wish: () => ({
    take: mover.take.value, causes: mover.cause.value ? [mover.cause.value] : [],
    filters: mover.filter.value ? [mover.filter.value === "no filter" ? "" : mover.filter.value] : [],
  }),

  async plan() {
    try {
      const wish = mover.wish();
      const plan = await askJSON("plan", wish);
      const rows = plan.moves.map((m) => make("tr", {}, make("th", { scope: "row" }, make("bdi", {}, m.path)), make("td", {}, m.verdict), make("td", {}, m.why)));
      const stay = plan.refused.map((r) => make("li", {}, make("bdi", {}, r.path), ": stays: " + r.reason));
      const go = make("button", { type: "button", id: "move-go" }, `Move ${plural(plan.moves.length, "file")} aside`);
      go.disabled = plan.moves.length === 0;
      go.addEventListener("click", () => mover.move({ ...wish, digest: plan.digest }));
      mover.box.replaceChildren(make("p", {}, go, " ", make("span", { class: "hint" }, "Is there a copy of the night?")),
        make("div", { class: "scroll tall", role: "region", "aria-label": "Files to move", tabindex: "0" }, make("table", {},
          make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "File"), make("th", { scope: "col" }, "Verdict"), make("th", { scope: "col" }, "Why"))), make("tbody", {}, ...rows))),
        make("ul", {}, ...stay));
      mover.box.hidden = false;
      mover.words.textContent = "";
    } catch (error) {
      mover.words.textContent = error.message;
    }
  },

  async move(wish) {
    await mover.act(() => askJSON("move", wish), (n) => `${plural(n, "file")} moved aside.`);
  },

  async undo() {
    await mover.act(() => askJSON("undo", {}), (n) => `${plural(n, "file")} moved back.`);
  },

  async act(work, words) {
    try {
      const { moved, refused } = await work();
      mover.words.textContent = [words(moved), ...refused.map((r) => `${r.path}: stayed: ${r.reason}.`)].join(" ");
      bench.frames.clear();
    } catch (error) {
      mover.words.textContent = error.message;
    }
    mover.hide();
  },
};

if (night.subs.length) {
  bench.start();
  mover.start();
  server.start();
  byId("save-marks").hidden = true; // the server has them already
}
