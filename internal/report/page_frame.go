package report

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"html/template"
	"strings"
)

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
