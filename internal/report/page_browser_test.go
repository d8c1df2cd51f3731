package report

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	cdpbrowser "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"fitsqa/internal/browser"
	"fitsqa/internal/night"
	"fitsqa/internal/subs"
)

func TestMain(m *testing.M) { os.Exit(browser.Main(m)) }

// openPage opens r's page in a real browser, w x h CSS pixels.
func openPage(t *testing.T, r *night.Result, w, h int64) *browser.Tab {
	t.Helper()
	path := filepath.Join(t.TempDir(), "report.html")
	var b bytes.Buffer
	if err := HTML(&b, r); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return browser.Open(t, "file://"+path, w, h)
}

func TestBrowserLoadsHostileNight(t *testing.T) {
	p := openPage(t, fakeNight(6), 1280, 900)
	browser.Expect(p, `window.hacked === undefined`, true)
	browser.Expect(p, `document.querySelectorAll("#charts canvas").length`, 4)
	browser.Expect(p, `document.querySelectorAll(".sheet img").length`, 12+7+3)
	browser.Expect(p, `[...document.images].filter(im => im.src && !(im.complete && im.naturalWidth > 0)).length`, 0)
	p.Quiet()
}

func TestBrowserSortsAndFilters(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserViewerStepsAndMarks steps through the subs in the table's order")
	}
	p := openPage(t, fakeNight(6), 1280, 900)
	const fwhm = `[...document.querySelectorAll("#sub-table tbody tr")].map(r => night.subs[r.dataset.i].fwhm).filter(v => v !== null)`
	const ascending = `((v) => v.every((x, i) => i === 0 || v[i-1] <= x))`
	p.Do(chromedp.Click(chromedp.CSS(`th[data-key="fwhm"] button`)))
	browser.Expect(p, ascending+"("+fwhm+")", true)
	browser.Expect(p, `document.querySelector('th[data-key="fwhm"]').ariaSort`, "ascending")
	p.Do(chromedp.Click(chromedp.CSS(`th[data-key="fwhm"] button`)))
	browser.Expect(p, ascending+"("+fwhm+".reverse())", true)
	// A missing figure stands last either way.
	browser.Expect(p, `night.subs[document.querySelector("#sub-table tbody tr:last-child").dataset.i].fwhm === null`, true)

	const shown = `document.querySelectorAll("#sub-table tbody tr:not([hidden])").length`
	p.Do(chromedp.Click(chromedp.CSS(`input[name="verdict"][value="keep"]`)))
	browser.Expect(p, shown+` === night.subs.filter(s => s.verdict !== "keep").length`, true)
	p.Run(`byId("by-cause").value = "cloud"; byId("by-cause").dispatchEvent(new Event("input", {bubbles: true}))`)
	browser.Expect(p, shown, 2)
	browser.Expect(p, `document.querySelectorAll(".sheet li:not([hidden])").length`, 2)
	browser.Expect(p, `document.getElementById("shown").textContent`, "2 of 24 shown")
	p.Do(chromedp.Click(chromedp.CSS(`#filters button[type="reset"]`)))
	browser.Expect(p, shown, 24)
	p.Do(chromedp.SendKeys(chromedp.CSS("#find"), "garbage malformed"))
	browser.Expect(p, shown, 1)
	p.Quiet()
}

func TestBrowserTimelineNamesSubs(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserViewerStepsAndMarks opens subs as well")
	}
	p := openPage(t, fakeNight(6), 1280, 900)
	p.Do(chromedp.ScrollIntoView(chromedp.CSS("#charts")))
	// Point at the first mark of the third chart.
	at := browser.Value[[]float64](p, `(() => { const u = timeline.charts[2], r = u.over.getBoundingClientRect();
		return [r.left + u.valToPos(timeline.xs[0], "x"), r.top + r.height / 2]; })()`)
	p.Do(chromedp.MouseEvent(chromedp.MouseMoved, at[0]+2, at[1]))
	browser.Expect(p, `document.querySelector(".tip").hidden`, false)
	browser.Expect(p, `document.querySelector(".tip b").textContent`, "lights/M_33_Ha_0001.fits")
	browser.Expect(p, `document.getElementById("timeline-reading").textContent.startsWith("lights/M_33_Ha_0001.fits")`, true)
	p.Do(chromedp.MouseClickXY(at[0]+2, at[1]))
	browser.Expect(p, `document.querySelector("tr.here").id`, "sub-0")
	// The same by keyboard: one step right, then to its row.
	p.Do(chromedp.Focus(chromedp.CSS("#charts")))
	p.Press(kb.ArrowRight)
	browser.Expect(p, `document.querySelector(".tip b").textContent`, "lights/M_33_OIII_0001.fits")
	p.Press(kb.Enter)
	browser.Expect(p, `document.querySelector("tr.here").id`, "sub-1")
	// Subs without a time of their own show when placed one after the other.
	before := browser.Value[int](p, `timeline.subs.length`)
	p.Do(chromedp.Click(chromedp.CSS("#timeline-sequence")))
	browser.Expect(p, `timeline.subs.length`, before+1)
	p.Quiet()
}

func TestBrowserViewerStepsAndMarks(t *testing.T) {
	p := openPage(t, fakeNight(6), 1280, 900)
	const title = `document.querySelector("#viewer-title bdi").textContent`
	p.Do(chromedp.Click(chromedp.CSS(`#sub-0 a`)), chromedp.WaitVisible(chromedp.CSS("#viewer")))
	browser.Expect(p, title, "lights/M_33_Ha_0001.fits")
	browser.Expect(p, `document.getElementById("viewer-image").naturalWidth > 100`, true)
	p.Press(kb.ArrowRight)
	browser.Expect(p, title, "lights/M_33_OIII_0001.fits")
	p.Press(kb.ArrowLeft, kb.ArrowLeft) // round the end
	browser.Expect(p, `viewer.index`, 23)
	// One key steps through keep, cull and none.
	p.Press("m", "m", kb.ArrowRight, "m", kb.ArrowRight, "m", "m", "m")
	browser.Expect(p, `JSON.stringify([...marks.of].sort())`, `[[0,"keep"],[20,"keep"],[23,"cull"]]`) // 20 was decided before
	browser.Expect(p, `document.querySelector("#picture-0 .mark").textContent`, "keep")
	// A trailed sub shows its stars, nearest to the centre first.
	trailed := browser.Value[int](p, `night.subs.findIndex(s => s.causes[0] === "trailed")`)
	p.Run(fmt.Sprintf("viewer.show(%d)", trailed))
	browser.Expect(p, `document.getElementById("viewer-strip").naturalWidth`, 8*32+7*2)
	browser.Expect(p, `Math.round(document.getElementById("viewer-strip").getBoundingClientRect().width)`, 3*(8*32+7*2))
	p.Press(kb.Escape)
	browser.Expect(p, `byId("viewer").open`, false)
	p.Quiet()
}

// A mark overrules the figures in table, pictures, timeline and hours at once;
// ranges, all that is shown, and conditions on a number mark many; undo takes
// the last change back whole.
func TestBrowserMarksReachEverything(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserViewerStepsAndMarks sets marks as well")
	}
	p := openPage(t, fakeNight(12), 1280, 900)
	p.Click("#clear-marks") // what was decided before
	kept := browser.Value[int](p, `night.subs.findIndex(s => s.measured === "keep" && s.weight !== null)`)
	group := browser.Value[string](p, fmt.Sprintf(`night.groups[night.subs[%d].group]`, kept))
	cell := func(key string) string {
		return fmt.Sprintf(`[...document.querySelectorAll(".yield tr[data-group]")].find(r => r.dataset.group === %q).querySelector('[data-cell="%s"]').textContent`, group, key)
	}
	before := browser.Value[string](p, cell("usable"))
	step := fmt.Sprintf(`#sub-%d button[data-step]`, kept)
	p.Click(step) // keep, as it was
	browser.Expect(p, cell("usable"), before)
	p.Click(step) // cull
	exposure := browser.Value[float64](p, fmt.Sprintf(`night.subs[%d].exposure`, kept))
	browser.Expect(p, fmt.Sprintf(`Math.abs(%s - (%s - %g / 3600)) < 0.011`, cell("usable"), before, exposure), true)
	browser.Expect(p, fmt.Sprintf(`document.querySelector("#sub-%d .verdict-cell button").textContent.trim()`, kept), "cull")
	browser.Expect(p, fmt.Sprintf(`document.querySelector("#picture-%d .cap-verdict").textContent`, kept), "cull")
	browser.Expect(p, `byId("marks-effect").hidden`, false)
	browser.Expect(p, `byId("marks-effect").textContent.includes("signal to noise of the weighted stack −")`, true)
	type image struct{ Exposure, Weight, FWHM, Beta float64 }
	stay := browser.Value[[]image](p, fmt.Sprintf(`night.subs.filter(s => s.group === night.subs[%d].group && s.verdict !== "cull" && s.verdict !== "not judged" &&
		s.weight !== null && s.exposure !== null && s.fwhm !== null).map(s => ({Exposure: s.exposure, Weight: s.weight, FWHM: s.fwhm, Beta: s.beta}))`, kept))
	light := func(r float64) float64 { // of an average of Moffat profiles of equal light (Moffat 1969, A&A 3, 455)
		sum := 0.0
		for _, s := range stay {
			core2 := s.FWHM * s.FWHM / 4 / (math.Pow(2, 1/s.Beta) - 1)
			sum += s.Exposure * s.Weight * (s.Beta - 1) / (math.Pi * core2) * math.Pow(1+r*r/core2, -s.Beta)
		}
		return sum
	}
	r := 0.0
	for light(r) > light(0)/2 {
		r += 0.0005
	}
	browser.Expect(p, fmt.Sprintf(`Math.abs(Number(byId("marks-effect").textContent.match(/→ ([0-9.]+) px/)[1]) - %g) < 0.007`, 2*r), true)
	p.Click(step) // none
	browser.Expect(p, cell("usable"), before)
	browser.Expect(p, `byId("marks-effect").hidden`, true)

	// From one row to another with Shift, in the order of the table.
	p.Run(`table.sortBy("fwhm"); marks.pick(table.order()[2], false, table.order()); marks.pick(table.order()[6], true, table.order())`)
	browser.Expect(p, `table.order().slice(2, 7).every(i => marks.of.get(i) === "keep") && marks.of.size === 5`, true)
	p.Click("#undo-marks")
	browser.Expect(p, `marks.of.size`, 1)
	p.Click("#clear-marks")

	// By a number: what was not measured meets no condition.
	p.Run(`byId("number-figure").value = "transparency"; byId("number-side").value = "under"; byId("number-limit").value = "0.7"; table.filter()`)
	p.Click(`[data-mark-shown="cull"]`)
	browser.Expect(p, `night.subs.every(s => (s.mark === "cull") === (s.transparency !== null && s.transparency < 0.7)) && marks.of.size > 0`, true)
	p.Click("#clear-marks")
	p.Click(`#filters button[type="reset"]`)

	// In the timeline, by keys.
	p.Do(chromedp.Focus(chromedp.CSS("#charts")))
	p.Press(kb.ArrowRight)
	for range 3 {
		p.Do(chromedp.KeyEvent(kb.ArrowRight, chromedp.KeyModifiers(chromedp.ModifierShift)))
	}
	p.Press("m", "m")
	browser.Expect(p, `timeline.subs.slice(0, 4).every(i => night.subs[i].verdict === "cull") && marks.of.size`, 4)
	p.Quiet()
}

// Marks stay with their files in the browser's store: they come back with the
// page, and files of another night with the same names know nothing of them.
func TestBrowserRemembersMarksByFile(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserViewerStepsAndMarks sets marks as well")
	}
	r := fakeNight(3)
	p := openPage(t, r, 1280, 900)
	p.Run(`marks.set([0, 2], "cull")`)
	p.Do(chromedp.Reload(), chromedp.WaitReady(chromedp.CSS(`html[data-ready="yes"]`)))
	browser.Expect(p, `JSON.stringify([...marks.of])`, `[[0,"cull"],[2,"cull"],[14,"keep"]]`) // 14 was decided before
	browser.Expect(p, `night.subs[0].verdict`, "cull")
	ids := browser.Value[[]string](p, `night.subs.map(s => s.id)`)
	for i, s := range fakeNight(3).Subs {
		s.Frame.ModTime = s.Frame.ModTime.AddDate(0, 0, 1)
		if subID(s) == ids[i] {
			t.Errorf("%q of another night has the same id", s.File)
		}
	}
	p.Quiet()
}

// The panels show any two figures of each group, or how often each value comes,
// with the group's limits, and follow marks.
func TestBrowserPanels(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserLoadsHostileNight draws them")
	}
	p := openPage(t, fakeNight(12), 1280, 900)
	browser.Expect(p, `document.querySelectorAll("#panel-list figure").length === night.groups.length`, true)
	choose := func(id, value string) {
		p.Run(fmt.Sprintf(`byId(%q).value = %q; byId(%q).dispatchEvent(new Event("change"))`, id, value, id))
	}
	written := func(low, high, want string) { // what stands at an axis of time
		browser.Expect(p, `((ends) => panels.ticks("time", ends).map((t) => panels.words("time", t, ends)).join())([Date.parse("`+low+`Z") / 1000, Date.parse("`+high+`Z") / 1000])`, want)
	}
	written("2013-08-03T19:00", "2013-08-03T20:50", "19:00,19:30,20:00,20:30")
	written("2013-08-02T23:00", "2013-08-04T12:00", "08-03,08-03 12:00,08-04,08-04 12:00")
	written("2013-06-27T23:13", "2013-08-03T19:36", "07-04,07-14,07-24,08-03")
	choose("panel-up", "ellipticity")
	choose("panel-across", "fwhm")
	browser.Expect(p, `document.querySelectorAll("#panel-list [data-sub]").length === night.subs.filter(s => s.fwhm !== null && s.ellipticity !== null).length`, true)
	// A mark stands where its numbers say.
	browser.Expect(p, `(() => { const marks = [...document.querySelectorAll("#panel-list figure:first-child [data-sub]")];
		const at = marks.map(m => m.getAttribute("transform").match(/[-\d.]+/g).map(Number));
		return marks.every((m, k) => marks.every((o, l) => (night.subs[m.dataset.sub].fwhm - night.subs[o.dataset.sub].fwhm) * (at[k][0] - at[l][0]) >= 0
			&& (night.subs[m.dataset.sub].ellipticity - night.subs[o.dataset.sub].ellipticity) * (at[k][1] - at[l][1]) <= 0)); })()`, true)
	choose("panel-across", "count")
	browser.Expect(p, `[...document.querySelectorAll("#panel-list rect title")].reduce((n, t) => n + parseInt(t.textContent), 0) === night.subs.filter(s => s.ellipticity !== null).length`, true)
	kept := browser.Value[int](p, `night.subs.filter(s => s.ellipticity !== null && s.verdict === "keep").length`)
	p.Run(`marks.set([night.subs.findIndex(s => s.verdict === "keep" && s.ellipticity !== null)], "cull")`)
	browser.Expect(p, `[...document.querySelectorAll("#panel-list rect title")].filter(t => t.textContent.endsWith("keep")).reduce((n, t) => n + parseInt(t.textContent), 0)`, kept-1)
	p.Quiet()
}

// On paper the charts are as wide as a page and the colours light, whatever the
// screen has; afterwards all is as it was.
func TestBrowserLaysOutForPaper(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserLoadsHostileNight lays out a screen")
	}
	p := openPage(t, fakeNight(6), 1600, 900)
	p.Run(`theme.set("dark")`)
	wide := browser.Value[int](p, `timeline.charts[0].width`)
	p.Run(`dispatchEvent(new Event("beforeprint"))`)
	browser.Expect(p, `timeline.charts.every(c => c.width <= 700)`, true)
	browser.Expect(p, `document.documentElement.dataset.theme`, "light")
	browser.Expect(p, `[...document.querySelectorAll("main details:not(#decision-box)")].every(d => d.open)`, true)
	// Chromium repeats the head of a table on every page only where no button has a box in it.
	browser.Call(p, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	browser.Expect(p, `[...document.querySelectorAll("thead button")].every(b => getComputedStyle(b).display === "contents")`, true)
	browser.Call(p, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{})
	p.Run(`dispatchEvent(new Event("afterprint"))`)
	browser.Expect(p, `timeline.charts[0].width`, wide)
	browser.Expect(p, `document.documentElement.dataset.theme`, "dark")
	// The commands name the folder that the page lies in, quoted where they must.
	browser.Expect(p, `document.querySelector("code[data-command]").textContent === "fitsqa review --open " + commands.folder()`, true)
	browser.Expect(p, `commands.folder().startsWith("/")`, true)
	p.Quiet()
}

// A thousand subs: sorting, marking all and the next picture do not keep the user waiting.
func TestBrowserThousandSubs(t *testing.T) {
	if testing.Short() {
		t.Skip("draws a page of a thousand subs")
	}
	p := openPage(t, fakeNight(494), 1280, 900)
	browser.Expect(p, `night.subs.length`, 1000)
	timed := func(what, script string, limit float64) {
		t.Helper()
		before := taskSeconds(t, p)
		browser.Value[int](p, `(() => { `+script+`; return document.body.offsetHeight; })()`)
		took := 1000 * (taskSeconds(t, p) - before)
		t.Logf("%s: %.0f ms", what, took)
		if took > 2*limit { // a core that two share is half as fast
			t.Errorf("%s took %.0f ms of processor time, want %.0f on a machine at rest", what, took, limit)
		}
	}
	timed("sort", `table.sortBy("fwhm")`, 500)
	timed("open", `viewer.open(10)`, 500)
	timed("next picture", `viewer.step(1)`, 100)
	timed("one mark", `marks.step(12)`, 500)
	timed("all marked", `marks.set(night.subs.map((s, i) => i), "cull")`, 1000)
	p.Quiet()
}

// Worst first: what is culled stands before what is kept.
func TestBrowserOrdersSheet(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserViewerStepsAndMarks steps through the sheet")
	}
	p := openPage(t, fakeNight(6), 1280, 900)
	browser.Expect(p, `sheet.order()[0]`, 0)
	p.Run(`byId("sheet-order").value = "worst"; byId("sheet-order").dispatchEvent(new Event("change"))`)
	browser.Expect(p, `sheet.order().map(i => night.subs[i].verdictRank).every((v, k, all) => k === 0 || all[k-1] >= v)`, true)
	p.Quiet()
}

// The file that the page saves is one that the decisions' own parser takes,
// hostile names included.
func TestBrowserSavesDecisions(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more, and a download; TestBrowserViewerStepsAndMarks sets the marks")
	}
	r := fakeNight(3)
	p := openPage(t, r, 1280, 900)
	dir := t.TempDir()
	if _, err := chromedp.CallBrowser(p, cdpbrowser.SetDownloadBehavior, cdpbrowser.SetDownloadBehaviorParams{
		Behavior: cdpbrowser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir, BrowserContextID: chromedp.FromContext(p).BrowserContextID,
	}); err != nil {
		t.Fatal(err)
	}
	p.Run(`night.subs.forEach((s, i) => marks.set([i], i % 2 ? "keep" : "cull"))`)
	p.Click("#save-marks")
	path := filepath.Join(dir, "decisions.txt")
	for range 200 {
		if _, err := os.Stat(path); err == nil {
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	decisions, err := subs.ParseDecisions(f)
	if err != nil {
		t.Fatal(err)
	}
	if len(decisions) != len(r.Subs) {
		t.Fatalf("%d decisions on %d subs", len(decisions), len(r.Subs))
	}
	for i, s := range r.Subs {
		if want := (subs.Decision{Verdict: []subs.Verdict{subs.Cull, subs.Keep}[i%2], Name: s.File}); decisions[i] != want {
			t.Errorf("%+v, want %+v", decisions[i], want)
		}
	}
	p.Quiet()
}

// axe-core's rules (WCAG 2 A and AA, best practices) find nothing serious, in
// every appearance, and with the large view open.
func TestBrowserAccessibility(t *testing.T) {
	if testing.Short() {
		t.Skip("all rules in three themes; package review tries them on its page")
	}
	rules, err := os.ReadFile("testdata/axe/axe.min.js")
	if err != nil {
		t.Fatal(err)
	}
	p := openPage(t, fakeNight(4), 1280, 900)
	p.Run(string(rules))
	type finding struct {
		Impact, ID, Help string
		Nodes            []string
	}
	check := func(where, part, rules string) {
		t.Helper()
		findings := browser.Value[[]finding](p, `axe.run(`+part+`, {resultTypes: ["violations"]`+rules+`}).then(r => r.violations.map(v =>
			({Impact: v.impact, ID: v.id, Help: v.help, Nodes: v.nodes.slice(0, 4).map(n => n.html.slice(0, 160) + " " + n.failureSummary)})))`)
		for _, f := range findings {
			t.Errorf("%s: %s %s: %s\n  %s", where, f.Impact, f.ID, f.Help, strings.Join(f.Nodes, "\n  "))
		}
	}
	check("light", "document", "")
	for _, theme := range []string{"dark", "red"} { // the same elements in other colours
		p.Run(fmt.Sprintf("theme.set(%q)", theme))
		check(theme, "document", `, runOnly: ["color-contrast"]`)
	}
	p.Run(`viewer.open(0)`)
	check("viewer", `byId("viewer")`, "") // it is modal: the rest cannot be reached
	// The rules can tell: an image without a text is found.
	p.Run(`byId("viewer").close()`)
	browser.Expect(p, `document.body.append(make("img", {src: "data:,"})) || axe.run(document, {runOnly: ["image-alt"]}).then(r => r.violations.some(v => v.id === "image-alt"))`, true)
}

// Nothing spills over the page's width, from a phone to a wide screen, and the
// tables that do are in boxes that scroll.
func TestBrowserWidths(t *testing.T) {
	if testing.Short() {
		t.Skip("three pages more; TestBrowserLoadsHostileNight lays one out")
	}
	for _, w := range []int64{360, 1280, 2560} {
		t.Run(fmt.Sprint(w), func(t *testing.T) {
			p := openPage(t, fakeNight(6), w, 900)
			browser.Expect(p, `document.documentElement.scrollWidth`, int(w))
			spilled := browser.Value[[]string](p, `[...document.querySelectorAll("main *, header *, footer *")].filter(e => {
				const r = e.getBoundingClientRect();
				return r.width > 0 && r.right > innerWidth + 1 && !e.closest(".scroll, nav, .u-wrap");
			}).slice(0, 5).map(e => e.outerHTML.slice(0, 100))`)
			if len(spilled) > 0 {
				t.Errorf("spilled over the right edge: %q", spilled)
			}
			p.Run(`viewer.open(0)`)
			browser.Expect(p, `document.getElementById("viewer").scrollWidth <= document.getElementById("viewer").clientWidth`, true)
			p.Quiet()
		})
	}
}

// A page of 300 subs takes less than two seconds of a processor until it
// answers. Processor time is what does not depend on what else the machine does.
func TestBrowserIsQuick(t *testing.T) {
	if testing.Short() {
		t.Skip("draws a page of 300 subs")
	}
	p := openPage(t, fakeNight(144), 1280, 900)
	browser.Expect(p, `night.subs.length`, 300)
	took := taskSeconds(t, p)
	t.Logf("ready after %.2f s of processor time", took)
	if took > 2 {
		t.Errorf("ready after %.2f s of processor time", took)
	}
	p.Quiet()
}

// taskSeconds is the processor time that a page has taken so far.
func taskSeconds(t *testing.T, p *browser.Tab) float64 {
	t.Helper()
	for _, m := range browser.Call(p, performance.GetMetrics, cdp.Empty{}).Metrics {
		if m.Name == "TaskDuration" {
			return m.Value
		}
	}
	t.Fatal("the browser does not tell what its tasks took")
	return 0
}

// Without scripts the page still tells everything in tables and pictures, those
// that stand beside it too.
func TestBrowserWithoutScripts(t *testing.T) {
	if testing.Short() {
		t.Skip("one page more; TestBrowserLoadsHostileNight draws its table and pictures")
	}
	dir := t.TempDir()
	if err := writeBeside(t.Context(), dir, fakeNight(2)); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "report.html")
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	page := string(raw)
	// The policy forbids every script but the page's own: spoil that one.
	page = strings.Replace(page, "script-src &#39;sha256-", "script-src &#39;sha256-A", 1)
	page = strings.Replace(page, `<html lang="en"`, `<html lang="en" data-ready="yes"`, 1)
	if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	p := browser.Open(t, "file://"+path, 1280, 900)
	browser.Expect(p, `typeof night`, "undefined")
	browser.Expect(p, `document.querySelectorAll("#sub-table tbody tr").length`, 16)
	browser.Expect(p, `[...document.querySelectorAll(".controls")].every(c => c.closest("[hidden]"))`, true)
	browser.Expect(p, `[...document.querySelectorAll("nav.contents a")].filter(a => a.getClientRects().length && !document.querySelector(a.hash)?.getClientRects().length).map(a => a.hash).join()`, "")
	browser.Expect(p, `[...document.querySelectorAll(".sheet img")].filter(i => i.naturalWidth > 0).length`, 14)
}
