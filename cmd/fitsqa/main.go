// Command fitsqa measures a night of astronomical frames and says what it was
// worth: whether it is complete and readable, how the camera does, which
// calibration frames are worth shooting, which subs are spoiled and by what,
// and what to shoot next.
//
// Usage:
//
//	fitsqa check [flags] DIR...    measure a night, write the reports
//	fitsqa watch [flags] DIR       follow a night while it is shot
//	fitsqa demo [flags] DIR        write a synthetic night with known truth
//	fitsqa review [flags] OUTDIR   look through a night, decide, move
//	fitsqa cull [flags] OUTDIR     move spoiled subs aside, or bring them back
//	fitsqa ledger [flags]          hours and camera health over the season
//	fitsqa compare [flags] A B     two nights or set-ups side by side
//	fitsqa ahead [flags]           plan the coming nights
//	fitsqa cache [flags]           what is remembered of measured frames
//	fitsqa settings                print every setting as a settings file
//	fitsqa completion SHELL        completion for a shell
//	fitsqa man DIR                 write the manual pages
//	fitsqa version
package main

import (
	"context"
	"os"
)

func main() {
	ctx, stop := untilSignal(context.Background())
	code := run(ctx, os.Stdout, os.Stderr, os.Args[1:])
	stop()
	os.Exit(code)
}
