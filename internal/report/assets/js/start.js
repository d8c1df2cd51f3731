// Controls that need scripts show only where scripts run.
for (const element of document.querySelectorAll(".scripted")) element.hidden = false;
theme.start();
if (night.subs.length) {
  marks.start();
  totals.start();
  table.start();
  sheet.start();
  strips.start();
  viewer.start();
  timeline.start();
}
// Closed parts are printed too.
addEventListener("beforeprint", () => {
  for (const details of document.querySelectorAll("main details")) details.open = true;
});
document.documentElement.dataset.ready = "yes";
