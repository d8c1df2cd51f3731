package ledger

import (
	"strings"

	"modernc.org/sqlite"

	"fitsqa/internal/names"
)

// spelling is the order of names in which all spellings of one stand together.
func init() {
	sqlite.MustRegisterCollationUtf8("spelling", func(a, b string) int {
		return strings.Compare(string(names.Name(a).Key()), string(names.Name(b).Key()))
	})
}
