package names

import "regexp"

// cometName is how observers write a comet: by the designation that the Minor Planet Center
// gives (https://www.minorplanetcenter.net/iau/lists/CometResolution.html, from memory: C/2023 A3,
// 12P/Name, P/2010 V1, 3I), its slash often lost in the name of a folder, or by that word.
var cometName = regexp.MustCompile(`(?i)^\s*(comet\b|comet_|[cpdxi][/_ -]?\d{4}[_ -]?[a-z]{1,2}\d{0,3}\b|[cpdxi][/_ -]?\d{4}[_ -][a-z]{1,2}\d{0,3}_|\d{1,3}[pdi](\b|_))`)

// Comet tells whether a name is that of a comet.
func (n Name) Comet() bool { return cometName.MatchString(string(n)) }
