// The large view of one sub: whole frame, corners and centre, figures, marks.
const viewer = {
  index: -1,

  start() {
    const dialog = byId("viewer");
    byId("viewer-close").addEventListener("click", () => dialog.close());
    byId("viewer-previous").addEventListener("click", () => viewer.step(-1));
    byId("viewer-next").addEventListener("click", () => viewer.step(1));
    for (const button of dialog.querySelectorAll("[data-set-mark]")) {
      button.addEventListener("click", () => marks.set([viewer.index], button.dataset.setMark));
    }
    dialog.addEventListener("keydown", viewer.key);
    dialog.addEventListener("click", (event) => {
      if (event.target === dialog) dialog.close(); // the backdrop
    });
    dialog.addEventListener("close", viewer.leave);
    marks.changed.push((list) => {
      if (list.includes(viewer.index)) viewer.showVerdict();
    });
    document.addEventListener("click", (event) => {
      const link = event.target.closest && event.target.closest("a[data-view]");
      if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
        event.preventDefault();
        viewer.open(Number(link.dataset.view));
      }
    });
  },

  open(i) {
    viewer.show(i);
    if (!byId("viewer").open) byId("viewer").showModal();
    byId("viewer-next").focus();
  },

  // leave puts the focus on the picture that was shown last.
  leave() {
    const link = document.querySelector(`#picture-${viewer.index} a`);
    if (link && link.offsetParent) link.focus({ preventScroll: false });
  },

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const actions = {
      ArrowRight: () => viewer.step(1),
      ArrowLeft: () => viewer.step(-1),
      Home: () => viewer.show(sheet.order()[0]),
      End: () => viewer.show(sheet.order().at(-1)),
      m: () => marks.step(viewer.index),
    };
    const action = actions[event.key] || actions[event.key.toLowerCase()];
    if (action) {
      event.preventDefault();
      action();
    }
  },

  step(by) {
    const order = sheet.order();
    const at = order.indexOf(viewer.index);
    viewer.show(order[(at + by + order.length) % order.length]);
  },

  show(i) {
    const sub = night.subs[i];
    viewer.index = i;
    byId("viewer-title").querySelector("bdi").textContent = sub.name;
    const picture = document.querySelector(`#picture-${i} img`);
    const image = byId("viewer-image");
    image.hidden = !picture;
    if (picture) image.src = sub.large || picture.src;
    else image.removeAttribute("src");
    image.alt = picture ? "The whole frame of " + sub.name : "";
    byId("viewer-whole-caption").textContent = picture ? "The whole frame" : document.querySelector(`#picture-${i} .no-pic`).textContent;
    strips.put(byId("viewer-strip"), sub);
    byId("viewer-strip").closest("figure").hidden = !sub.strip;

    const list = [
      ["Target", sub.target], ["Filter", sub.filterName], ["Start", sub.start === null ? "–" : clock(sub.start) + " UTC" + (night.local === null ? "" : `, ${localClock(sub.start)} local`)],
      ...["transparency", "sky", "stars", "fwhm", "hfd", "ellipticity", "angle", "coherence", "weight"].map((key) => viewer.line(key, sub)),
      ...["season", "skyMag", "limit"].filter((key) => sub[key] !== null).map((key) => viewer.line(key, sub)),
    ];
    byId("viewer-figures").replaceChildren(...list.flatMap(([term, text]) => [make("dt", {}, term), make("dd", {}, text)]));
    const order = sheet.order();
    byId("viewer-place").textContent = `${order.indexOf(i) + 1} of ${order.length}`;
    viewer.showVerdict();
  },

  line: (key, sub) => [night.figures[key].title, figures.words(key, sub)],

  showVerdict() {
    const sub = night.subs[viewer.index];
    byId("viewer-verdict").replaceChildren(verdictSign(sub.verdict), " ", make("b", {}, sub.verdict),
      sub.mark ? " by your mark" + (sub.mark === sub.measured ? "" : `; measured: ${sub.measured}`) : "",
      sub.causes.length ? " " + sub.causes.join(", ") : "", sub.sentence ? ": " + sub.sentence : "");
    for (const button of byId("viewer").querySelectorAll("[aria-pressed]")) {
      button.setAttribute("aria-pressed", String(sub.mark === button.dataset.setMark));
    }
  },
};
