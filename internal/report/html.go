package report

import (
	"embed"
	"html/template"
	"io"

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
