// On paper: light colours whatever the screen has, and charts as wide as a page.
const paper = {
  width: 690, // CSS px: an upright A4 page less its margins

  start() {
    addEventListener("beforeprint", paper.lay);
    addEventListener("afterprint", paper.lift);
  },

  lay() {
    for (const details of document.querySelectorAll("main details:not(#decision-box)")) {
      if (!details.open) details.dataset.closed = "yes";
      details.open = true; // closed parts are printed too
    }
    paper.theme = document.documentElement.dataset.theme;
    document.documentElement.dataset.printing = "yes";
    theme.set("light");
    if (!night.subs.length) return;
    timeline.fixed = paper.width;
    timeline.resize();
  },

  lift() {
    for (const details of document.querySelectorAll("details[data-closed]")) {
      details.open = false;
      delete details.dataset.closed;
    }
    delete document.documentElement.dataset.printing;
    theme.set(paper.theme || "auto");
    if (!night.subs.length) return;
    timeline.fixed = 0;
    timeline.resize();
  },
};
