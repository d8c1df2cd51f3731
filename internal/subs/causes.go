package subs

// Cause is why a sub is spoiled or suspect.
type Cause string

// The causes of the output contract.
const (
	Cloud         Cause = "cloud"
	Haze          Cause = "haze"
	Trailed       Cause = "trailed"
	Soft          Cause = "soft"
	BrightSky     Cause = "bright_sky"
	Twilight      Cause = "twilight"
	Moonlit       Cause = "moonlit"
	FewStars      Cause = "few_stars"
	NoStars       Cause = "no_stars"
	WrongSettings Cause = "wrong_settings"
	Truncated     Cause = "truncated"
	Unreadable    Cause = "unreadable"
	Duplicate     Cause = "duplicate"
	Obstructed    Cause = "obstructed"
	Dewed         Cause = "dewed"
)

// finders look for what speaks against a measured sub; of two that find as much the
// first one leads.
var finders = []func(*evidence) []Finding{
	single((*evidence).warmSensor),
	single((*evidence).trailed),
	single((*evidence).jumped),
	single((*evidence).soft),
	single((*evidence).obstructed),
	(*evidence).light,
	(*evidence).counts,
}

// single is a finder of a single cause.
func single(find func(*evidence) Finding) func(*evidence) []Finding {
	return func(e *evidence) []Finding { return []Finding{find(e)} }
}
