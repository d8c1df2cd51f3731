// The night as the page's JSON block holds it. Missing figures are null.
const night = JSON.parse(byId("night-data").textContent);

// verdictSign is the mark of a verdict, drawn as in the page's own markup.
function verdictSign(verdict) {
  const mark = "v-" + verdict.replace(" ", "-");
  const svg = makeSVG("svg", { class: "v " + mark, "aria-hidden": "true" });
  svg.append(makeSVG("use", { href: "#" + mark }));
  return svg;
}

// plural is a number of things: "1 sub", "22 subs".
const plural = (n, thing) => `${n} ${thing}${n === 1 ? "" : "s"}`;

// figure writes a number with a fixed count of decimals, a dash when missing.
const figure = (x, decimals) => (x === null ? "–" : x.toFixed(decimals));

// figures are what to say of each figure of a sub: title, unit and decimals come with
// the night. -1 decimals are three significant digits, for skies run from thousandths of
// e-/s to tens of thousands of ADU.
const figures = {
  heading: (key) => night.figures[key].title + (night.figures[key].unit && ", " + night.figures[key].unit),
  // number writes a figure without its unit, a dash when missing.
  number(key, x) {
    const { digits } = night.figures[key];
    return digits >= 0 ? figure(x, digits) : x === null ? "–" : x >= 100 ? x.toFixed(0) : x.toPrecision(3);
  },
  words(key, sub) {
    const { unit } = night.figures[key];
    return figures.number(key, sub[key]) + (unit && unit !== "°" ? "\u00a0" : "") + unit;
  },
  // inside is a title within a sentence: names and abbreviations keep their capitals.
  inside(key) {
    const { title } = night.figures[key];
    return /^(Moon|Sun|[A-Z]{2})/.test(title) ? title : title[0].toLowerCase() + title.slice(1);
  },
  sentence: (keys, sub) => keys.filter((key) => sub[key] !== null).map((key) => `${figures.inside(key)} ${figures.words(key, sub)}`).join(", "),
};

const day = 86400; // s

const clock = (seconds) => new Date(seconds * 1000).toISOString().slice(11, 19);

// localClock is local time of day, where it is known.
const localClock = (seconds) => clock(seconds + night.local);

// localWords tells how far local time is from UTC, for an axis.
function localWords() {
  if (night.local === null) return "";
  const hours = night.local / 3600;
  return `, local time ${hours < 0 ? "−" : "+"}${Math.abs(hours)} h`;
}

const verdictRank = { keep: 0, doubtful: 1, cull: 2, "not judged": 3 };

night.subs.forEach((sub, i) => {
  sub.order = i;
  sub.filterName = night.filters[sub.filter];
  sub.groupName = night.groups[sub.group];
  sub.verdict = sub.decided || sub.measured;
  sub.verdictRank = verdictRank[sub.verdict];
  const row = byId("sub-" + i);
  sub.target = row.querySelector(".target").textContent;
  sub.words = row.textContent.toLowerCase();
});
