// Strips of the brightest stars: in the large view, and in the sheet in place of
// the whole frames, where trailing and coma show at a glance.
const strips = {
  scale: 3, // CSS px per pixel of the frame, where there is room

  start() {
    byId("sheet-show").addEventListener("change", strips.sheet);
    strips.sheet();
  },

  put(image, sub) {
    if (!sub.strip) {
      image.removeAttribute("src");
      return;
    }
    image.onload = () => (image.style.width = image.naturalWidth * strips.scale + "px");
    image.src = sub.strip;
    image.alt = "The brightest stars of " + sub.name + ", from the centre of the frame outwards";
  },

  sheet() {
    const stars = byId("sheet-show").value === "stars";
    byId("sheet").classList.toggle("of-stars", stars);
    for (const sub of night.subs) {
      const place = byId("picture-" + sub.order).querySelector(".pic");
      let image = place.querySelector(".strip");
      if (stars && sub.strip && !image) {
        image = make("img", { class: "strip", alt: "", decoding: "async" });
        place.append(image);
        strips.put(image, sub);
        image.alt = "";
      }
    }
  },
};
