package names

import "testing"

func TestComets(t *testing.T) {
	for name, want := range map[Name]bool{
		"C/2023 A3": true, "C_2023_A3": true, "c2023a3": true, "C/2025 X1 (Somebody)": true, "12P": true, "12P/Pons-Brooks": true, "67p_x": true,
		"3I/Atlas": true, "P/2010 V1": true, "Comet A3": true, "comet_2": true, "D/1993 F2-G": true,
		"M 31": false, "IC 1396": false, "C 14": false, "Cometary globule": false, "PK 164+31": false, "Abell 2151": false, "2P1": false, "12 P": false, "": false,
		"NGC 2023 A": false, "X1 2020": false,
	} {
		if name.Comet() != want {
			t.Errorf("%q: comet %v", name, !want)
		}
	}
}
