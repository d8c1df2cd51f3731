package main

import (
	. "github.com/mmcloughlin/avo/build"
	. "github.com/mmcloughlin/avo/operand"
	. "github.com/mmcloughlin/avo/reg"
)

// fetch asks for what no one waits for; places that are not in memory do no harm.
func fetch() {
	TEXT("fetchNumbers", NOSPLIT, "func(from *float32, at *int32, n int)")
	from, places, n := Load(Param("from"), GP64()), Load(Param("at"), GP64()), Load(Param("n"), GP64())
	place := GP64()
	strides(n, 1, func(i GPVirtual) {
		MOVLQSX(Mem{Base: places, Index: i, Scale: 4}, place)
		PREFETCHT0(Mem{Base: from, Index: place, Scale: 4})
	})
	RET()
}
