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
  panels.start();
}
commands.start();
paper.start();
document.documentElement.dataset.ready = "yes";
