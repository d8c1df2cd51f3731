package ledger

import (
	"strings"

	"modernc.org/sqlite"

	"fitsqa/internal/names"
	"fitsqa/internal/sensor"
)

// spelling and setting are orders of names and of settings in which all spellings of
// one stand together.
func init() {
	sqlite.MustRegisterCollationUtf8("spelling", func(a, b string) int {
		return strings.Compare(string(names.Name(a).Key()), string(names.Name(b).Key()))
	})
	sqlite.MustRegisterCollationUtf8("setting", func(a, b string) int {
		return strings.Compare(sensor.SettingKey(a), sensor.SettingKey(b))
	})
}
