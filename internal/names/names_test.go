package names

import "testing"

func TestSpellingsOfOneName(t *testing.T) {
	for _, same := range [][]Name{
		{"Heron Nebula", "heron nebula", "Heron_Nebula", "HERON-NEBULA", " heron  nebula ", "HeronNebula", "heron\u2013nebula"},
		{"M 33", "m33", "M-33", "M_33"},
		{"H-alpha", "Halpha", "h alpha"},
		{"field 12-1", "Field 12_1", "field12 1"},
		{"Caf\u00e9 Field", "cafe\u0301 field"}, // composed and decomposed, as file systems write folders
		{"", "  "},
	} {
		for _, n := range same[1:] {
			if !n.Is(same[0]) || n.Key() != same[0].Key() {
				t.Errorf("%q is not %q: keys %q, %q", n, same[0], n.Key(), same[0].Key())
			}
		}
	}
}

func TestNamesThatDiffer(t *testing.T) {
	for _, two := range [][2]Name{
		{"M 33", "M 31"}, {"M 3 1", "M 31"}, {"field 12-1", "field 121"}, {"J0505+10", "J0505-10"}, {"Ha", "Hb"},
		{"", "L"}, {"-", "_"}, {"Camera A", "Camera B"},
	} {
		if two[0].Is(two[1]) {
			t.Errorf("%q and %q taken for one: key %q", two[0], two[1], two[0].Key())
		}
	}
}

func TestFirstSpellingIsShown(t *testing.T) {
	f := First{}
	for _, n := range []Name{"Heron Nebula", "heron_nebula", "HERON NEBULA"} {
		if got := f.Of(n); got != "Heron Nebula" {
			t.Errorf("%q is shown as %q", n, got)
		}
	}
	if f.Of("Tern Cluster") != "Tern Cluster" {
		t.Error("another name took the first's spelling")
	}
}

func TestUsualNamesOfFilters(t *testing.T) {
	for name, want := range map[Name]Name{"H-alpha": "Ha", "hα": "Ha", "O-III": "OIII", "o3": "OIII", "Lum": "L", "RED": "R", "H_beta": "Hb"} {
		if f, usual := name.Filter(); f.Name != want || !usual || f.All() != (want == "L") {
			t.Errorf("%q is %q", name, f.Name)
		}
	}
	for _, n := range []Name{"", "Ha 7nm", "Halo", "duo"} {
		if f, usual := n.Filter(); usual {
			t.Errorf("%q is %q", n, f.Name)
		}
	}
}
