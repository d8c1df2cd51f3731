package frames

// Group is frames that may be stacked or compared, and what they share.
// Temperatures agree within 1 °C, exposures within 1 %; NaN (unknown) is a
// value of its own, so that frames whose header is silent make a group
// "unknown", not a wrong one.
type Group struct {
	Kind                       Kind
	Camera                     string
	Width, Height              int
	BinX, BinY                 int
	GainSetting, OffsetSetting float64  // NaN: unknown
	SetTemp                    float64  // °C, set temperature, else the sensor's; NaN: unknown. Not used to split lights.
	Exposure                   float64  // s; NaN: unknown
	Filter                     string   // flats and lights only
	Target                     string   // lights only
	Frames                     []*Frame // in time order, then by name
}

// Label is short and readable, for example "light M 33 Ha 300 s gain 100".
func (g *Group) Label() string { return "" }

// Groups sorts readable single frames (no masters) into groups, in a stable
// order: by kind, then by label. Time order within a group.
func Groups(fs []*Frame) []*Group { return nil }
