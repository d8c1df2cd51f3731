package stats

import "fitsqa/internal/fact"

// Why a figure is missing. Package say has the words.
const (
	FewLines    fact.Code = "few_lines"
	NotMeasured fact.Code = "not_measured"
)
