package report

import (
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"fitsqa/internal/night"
)

// assets are the page's template, style and scripts, and the plotting library
// of its timeline (uPlot, MIT licence, in assets/uplot).
//
//go:embed assets
var assets embed.FS

// scripts are joined in this order into the page's one script.
var scripts = []string{
	"uplot/uPlot.iife.min.js",
	"js/elements.js", "js/data.js", "js/theme.js", "js/shapes.js", "js/marks.js", "js/totals.js", "js/strips.js", "js/viewer.js",
	"js/table.js", "js/sheet.js", "js/backdrop.js", "js/timeline.js", "js/panels.js",
	"js/commands.js", "js/paper.js", "js/start.js",
}

var styles = []string{
	"uplot/uPlot.min.css",
	"css/theme.css", "css/layout.css", "css/parts.css", "css/print.css",
}

var pageTemplate = template.Must(template.ParseFS(assets, "assets/page/*.tmpl"))

// HTML writes report.html: one file that needs no network and lets nothing in
// the data out of its place. Of a night with too many pictures for one file the
// last are left out.
func HTML(w io.Writer, r *night.Result) error { return pageBeside(w, r, nil) }

// pageBeside writes the page of a night whose pictures go onto a shelf where one
// file would be too large with them.
func pageBeside(w io.Writer, r *night.Result, beside *shelf) error {
	p, err := newPage(r, beside)
	if err != nil {
		return err
	}
	return pageTemplate.ExecuteTemplate(w, "page.tmpl", p)
}

// pageFrame is what every page has in common.
type pageFrame struct {
	Policy  string
	Style   template.CSS
	Script  template.JS
	Licence string
}

// newPageFrame lets the page show files beside it only where it has some there.
func newPageFrame(scripts []string, files bool) pageFrame {
	pictures := "data:"
	if files {
		pictures += " 'self' file:"
	}
	script := joined(scripts)
	hash := sha256.Sum256([]byte(script))
	licence, err := assets.ReadFile("assets/uplot/LICENSE")
	if err != nil {
		panic(err) // embedded at build time
	}
	return pageFrame{
		// Nothing is fetched, sent or framed; only this one script runs.
		Policy: fmt.Sprintf("default-src 'none'; base-uri 'none'; form-action 'none'; img-src %s; "+
			"style-src 'unsafe-inline'; script-src 'sha256-%s'", pictures, base64.StdEncoding.EncodeToString(hash[:])),
		Style:   template.CSS(joined(styles)),
		Script:  template.JS(script),
		Licence: string(licence),
	}
}

// joined is the content of some assets, one after the other.
func joined(names []string) string {
	var b strings.Builder
	for _, name := range names {
		text, err := assets.ReadFile("assets/" + name)
		if err != nil {
			panic(err) // embedded at build time
		}
		b.Write(text)
		b.WriteByte('\n')
	}
	return b.String()
}
