package names

// Filter is a filter as observers name it most, and the middle of its band.
type Filter struct {
	Name Name
	NM   float64
}

// The lines' wavelengths are those in air (from memory, as spectroscopists give them to
// 1 nm), the broad bands' their usual middle (common practice, no source).
var (
	luminance = Filter{"L", 550}
	red       = Filter{"R", 620}
	green     = Filter{"G", 535}
	blue      = Filter{"B", 460}
	hAlpha    = Filter{"Ha", 656}
	hBeta     = Filter{"Hb", 486}
	oxygen    = Filter{"OIII", 501}
	sulphur   = Filter{"SII", 672}
	nitrogen  = Filter{"NII", 658}
)

// filters by what they are called in headers and in names of files and folders (common
// practice, no source).
var filters = map[Key]Filter{
	"l": luminance, "lum": luminance, "luminance": luminance, "r": red, "red": red, "g": green, "green": green, "b": blue, "blue": blue,
	"ha": hAlpha, "hα": hAlpha, "halpha": hAlpha, "hb": hBeta, "hβ": hBeta, "hbeta": hBeta, "oiii": oxygen, "o3": oxygen,
	"sii": sulphur, "s2": sulphur, "nii": nitrogen,
}

// Filter is the filter that a name is a usual one of.
func (n Name) Filter() (f Filter, usual bool) {
	f, usual = filters[n.Key()]
	return f, usual
}

// All tells that a filter passes all visible light.
func (f Filter) All() bool { return f == luminance }
