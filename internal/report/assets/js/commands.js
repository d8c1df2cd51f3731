// The commands to go on with, for the folder that this page was opened from.
const commands = {
  start() {
    const folder = commands.folder();
    for (const code of document.querySelectorAll("code[data-command]")) {
      code.textContent = code.dataset.command.replace("OUTDIR", folder);
      const button = make("button", { type: "button" }, "Copy");
      button.setAttribute("aria-label", "Copy: " + code.textContent);
      button.addEventListener("click", () => commands.copy(code, button));
      code.after(" ", button);
    }
  },

  // folder is where the page lies, quoted for a shell where it must be.
  folder() {
    if (location.protocol !== "file:") return "fitsqa-out";
    let path = decodeURIComponent(location.pathname).replace(/\/[^/]*$/, "");
    if (/^\/[A-Za-z]:/.test(path)) path = path.slice(1);
    return /^[\w./:@%+,-]+$/.test(path) ? path : "'" + path.replaceAll("'", "'\\''") + "'";
  },

  async copy(code, button) {
    let done = false;
    try {
      await navigator.clipboard.writeText(code.textContent);
      done = true;
    } catch {
      getSelection().selectAllChildren(code); // what a browser without a clipboard can still do
      done = document.execCommand("copy");
    }
    button.textContent = done ? "Copied" : "Press Ctrl-C";
    setTimeout(() => (button.textContent = "Copy"), 2000);
  },
};
