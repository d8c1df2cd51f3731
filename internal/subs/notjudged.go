package subs

// NotJudged is no verdict: the file could not be read for reasons that say
// nothing about the sub (a drive that dropped out, a file without permission, a
// format that this program does not read). Such a sub is neither used nor moved
// aside.
const NotJudged Verdict = "not judged"

// Usable tells whether subs of a verdict go into the stack; before there is one they do.
func (v Verdict) Usable() bool { return v != Cull && v != NotJudged }
