// The contact sheet: by time, or the worst first.
const sheet = {
  start() {
    byId("sheet-order").addEventListener("change", sheet.sort);
  },

  sort() {
    const list = byId("sheet");
    const worst = byId("sheet-order").value === "worst";
    const items = [...list.children].sort((a, b) => {
      const x = night.subs[a.dataset.i];
      const y = night.subs[b.dataset.i];
      if (!worst) return x.order - y.order;
      return y.verdictRank - x.verdictRank || (x.weight ?? -1) - (y.weight ?? -1) || x.order - y.order;
    });
    list.append(...items);
  },

  // order is the subs shown, as they stand.
  order() {
    const shown = [...byId("sheet").children].filter((item) => !item.hidden).map((item) => Number(item.dataset.i));
    return shown.length ? shown : night.subs.map((sub) => sub.order);
  },
};
