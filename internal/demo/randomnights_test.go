package demo

import (
	"reflect"
	"strings"
	"testing"
)

// A seed gives one night, whose troubles befall subs that it has; many seeds give
// every trouble, and it with others.
func TestRandomNights(t *testing.T) {
	seen, together := map[string]bool{}, 0
	for seed := range uint64(300) {
		sc := RandomNight(seed)
		if !reflect.DeepEqual(sc, RandomNight(seed)) && sc.Sensor == nil { // its set point is NaN
			t.Errorf("seed %d gives two nights", seed)
		}
		if s := astray(sc); s != nil {
			t.Errorf("%s, seed %d: %v of %d subs", sc.Name, seed, *s, sc.subs())
		}
		troubles := strings.Split(sc.Name, "-")[1:]
		for _, trouble := range troubles {
			seen[trouble] = true
		}
		if len(troubles) > 1 {
			together++
		}
	}
	if len(seen) != 8 || together < 100 {
		t.Errorf("%d troubles, %d nights with several", len(seen), together)
	}
}

// The sensor sees stars wherever the mount drifts and the field turns.
func TestFieldReachesAsFarAsTheSensor(t *testing.T) {
	sc := hard("far", Block{Filter: "Ha", Exposure: 300, Subs: 25})
	sc.Mount, sc.Flip, sc.FlipTurn = [2]float64{150, -150}, 12, 3
	list := scenes(sc, lumen)
	last := list[len(list)-1]
	w, h := sc.fieldSize()
	for _, corner := range [][2]float64{{-320, -240}, {320, -240}, {-320, 240}, {320, 240}} {
		if x, y := last.toField(corner[0], corner[1]); 2*x < -w || 2*x > w || 2*y < -h || 2*y > h {
			t.Errorf("corner %v of the last sub lies at %.0f, %.0f of a field %.0f x %.0f", corner, x, y, w, h)
		}
	}
}
