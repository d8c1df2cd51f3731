// Appearance: as the system has it, light, dark, or red for dark-adapted eyes.
const theme = {
  changed: [], // called after the colours have changed

  start() {
    const wanted = store.get("theme") || "auto";
    for (const input of document.querySelectorAll('input[name="theme"]')) {
      input.checked = input.value === wanted;
      input.addEventListener("change", () => {
        theme.set(input.value);
        store.set("theme", input.value);
      });
    }
    theme.set(wanted);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => theme.tell());
  },

  set(name) {
    document.documentElement.dataset.theme = name;
    theme.tell();
  },

  tell() {
    for (const listener of theme.changed) listener();
  },

  // color is a colour of the page by its name in the style sheet.
  color(name) {
    return getComputedStyle(document.documentElement).getPropertyValue("--" + name).trim();
  },
};

// store keeps small things between visits, where the browser lets a page do so.
const store = {
  get(key) {
    try {
      return localStorage.getItem("fitsqa " + key);
    } catch {
      return null;
    }
  },
  set(key, value) {
    try {
      localStorage.setItem("fitsqa " + key, value);
    } catch {
      // The page works without.
    }
  },
};
