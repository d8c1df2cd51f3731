package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"fitsqa/internal/cull"
	"fitsqa/internal/decisions"
	"fitsqa/internal/fact"
	"fitsqa/internal/frames"
	"fitsqa/internal/outdir"
	"fitsqa/internal/say"
	"fitsqa/internal/subs"
)

const cullAbout = `
Reads the verdicts in OUTDIR/night.json, and your own in OUTDIR/decisions.txt
and --decisions, which win, and shows which files would be moved
into a folder "` + cull.Folder + `" beside them. With --apply they are moved, with
--undo they come back. Files are renamed, never copied, overwritten or deleted;
the journal in OUTDIR says what was moved, so keep OUTDIR until you are sure.
Files that changed since the analysis, and links, stay where they are.

Keep a copy of the night before you move originals. Exit code 3 here means that
some files stayed where they are, each named with the reason.
`

type cullOptions struct {
	take        string
	decisions   string
	causes      []string
	filters     []string
	apply, undo bool
	list, null  bool
}

func (o *cullOptions) addFlags(fs *pflag.FlagSet) {
	fs.StringVar(&o.take, "take", string(cull.TakeCull), "`which` subs: \"cull\", \"doubtful\" for those as well, or \"own\" for your own decisions alone")
	fs.StringVar(&o.decisions, "decisions", "", "`file` with your own verdicts, on top of those kept in OUTDIR")
	fs.StringSliceVar(&o.causes, "cause", nil, "only subs with this `cause`, such as cloud; more after commas")
	fs.StringSliceVar(&o.filters, "filter", nil, "only subs through this `filter`; more after commas")
	fs.BoolVar(&o.apply, "apply", false, "move the files")
	fs.BoolVar(&o.undo, "undo", false, "move all files back that were moved from here")
	fs.BoolVar(&o.list, "list", false, "only print the files, one path a line, for other tools")
	fs.BoolVar(&o.null, "null", false, "with --list: end each path with a zero byte instead of a line break")
}

func (o *cullOptions) validate(args []string) error {
	switch {
	case len(args) != 1:
		return errors.New("name the output folder of a check")
	case o.apply && o.undo || o.apply && o.list || o.undo && o.list:
		return errors.New("--apply, --undo and --list exclude each other")
	case slices.ContainsFunc(o.causes, unknownCause):
		return fmt.Errorf("--cause %q: there are %s", strings.Join(o.causes, ","), strings.Join(say.Causes(), ", "))
	case o.null && !o.list:
		return errors.New("--null goes with --list")
	}
	return nil
}

func unknownCause(name string) bool { return !slices.Contains(say.Causes(), cull.CauseNamed(name)) }

func (o *cullOptions) again(outdir string) string {
	parts := []string{"fitsqa cull --apply"}
	if o.take != string(cull.TakeCull) {
		parts = append(parts, "--take "+o.take)
	}
	if o.decisions != "" {
		parts = append(parts, "--decisions "+say.Quoted(printable(o.decisions)))
	}
	if len(o.causes) > 0 {
		parts = append(parts, "--cause "+say.Quoted(strings.Join(o.causes, ",")))
	}
	if len(o.filters) > 0 {
		parts = append(parts, "--filter "+say.Quoted(printable(strings.Join(o.filters, ","))))
	}
	return strings.Join(append(parts, say.Quoted(printable(outdir))), " ")
}

func cullCommand() *cobra.Command {
	var o cullOptions
	cmd := command("cull [flags] OUTDIR", "move spoiled subs aside, or bring them back", cullAbout,
		func(cmd *cobra.Command, args []string) int { return runCull(cmd, &o, args) })
	o.addFlags(cmd.Flags())
	return cmd
}

func runCull(cmd *cobra.Command, o *cullOptions, args []string) int {
	ctx, stdout, stderr := cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr()
	if err := o.validate(args); err != nil {
		return usageError(stderr, cmd, err)
	}
	outdir := args[0]
	if o.undo {
		return undoCull(ctx, stdout, stderr, outdir)
	}

	own, err := loadDecisions(outdir, o.decisions)
	if err != nil {
		return usageError(stderr, cmd, err)
	}
	plan, err := planCull(stderr, outdir, *o, own)
	switch {
	case errors.Is(err, cull.ErrChoice):
		return usageError(stderr, cmd, fmt.Errorf("--take %q: %w", o.take, err))
	case err != nil:
		fmt.Fprintln(stderr, "fitsqa cull:", oneLine(err))
		return exitNothing
	}
	switch {
	case o.list:
		return listCull(stdout, stderr, plan, o.null)
	case o.apply:
		return applyCull(ctx, stdout, stderr, outdir, plan)
	}
	return showPlan(stdout, o.again(outdir), plan)
}

func planCull(stderr io.Writer, dir string, o cullOptions, own []subs.Decision) (*cull.Plan, error) {
	f, err := outdir.OpenNight(dir)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	all, roots, err := cull.ReadNight(f)
	if err != nil {
		return nil, err
	}
	for _, d := range decisions.Apply(all, own) {
		fmt.Fprintf(stderr, "fitsqa cull: a decision is on a file that is not there: %s\n", printable(d.Name))
	}
	plan, err := cull.NewPlan(all, cull.Selection{Take: cull.Choice(o.take), Causes: o.causes, Filters: o.filters})
	if plan != nil {
		plan.Night = roots
	}
	return plan, err
}

func showPlan(stdout io.Writer, again string, plan *cull.Plan) int {
	for _, m := range plan.Moves {
		fmt.Fprintf(stdout, "%s: %s (%s)\n", printable(m.Path), m.Final(), onTerminal(m.Why()))
	}
	showRefused(stdout, plan.Refused, "would stay")
	fmt.Fprintf(stdout, "%s would be moved into folders %q beside them%s; nothing was moved.\n", fact.Plural(len(plan.Moves), "file"), cull.Folder, movedBefore(plan))
	if len(plan.Moves) > 0 {
		fmt.Fprintf(stdout, "Keep a copy of the night, then: %s\n", again)
	}
	return partly(plan.Refused)
}

// onTerminal is a sentence set as those of the report are.
func onTerminal(sentence string) string {
	return strings.ReplaceAll(say.Typeset(frames.Printable(sentence)), "\u00a0", " ")
}

func movedBefore(plan *cull.Plan) string {
	if plan.Aside == 0 {
		return ""
	}
	return fmt.Sprintf("; %d %s there already", plan.Aside, map[bool]string{true: "is", false: "are"}[plan.Aside == 1])
}

// listCull prints paths for other tools; a path that would break the list is
// left out and named on stderr.
func listCull(stdout, stderr io.Writer, plan *cull.Plan, null bool) int {
	end, code := "\n", exitDone
	if null {
		end = "\x00"
	}
	for _, m := range plan.Moves {
		if !null && strings.ContainsAny(m.Path, "\n\r") {
			fmt.Fprintf(stderr, "fitsqa cull: %s: has a line break in its name, use --null\n", printable(m.Path))
			code = exitUnreadable
			continue
		}
		fmt.Fprint(toTools(stdout), m.Path, end)
	}
	showRefused(stderr, plan.Refused, "left out")
	return max(code, partly(plan.Refused))
}

func applyCull(ctx context.Context, stdout, stderr io.Writer, outdir string, plan *cull.Plan) int {
	w := cull.Worker{OutDir: outdir}
	out, err := w.Apply(ctx, plan)
	showRefused(stdout, out.Refused, "stayed")
	fmt.Fprintf(stdout, "%s moved into folders %q beside them%s.\n", fact.Plural(len(out.Moved), "file"), cull.Folder, movedBefore(plan))
	if len(out.Moved) > 0 {
		fmt.Fprintf(stdout, "To bring them back: fitsqa cull --undo %s\n", say.Quoted(printable(outdir)))
	}
	return cullEnd(ctx, stderr, out, err)
}

func undoCull(ctx context.Context, stdout, stderr io.Writer, outdir string) int {
	w := cull.Worker{OutDir: outdir}
	out, err := w.Undo(ctx)
	if errors.Is(err, cull.ErrNoJournal) {
		fmt.Fprintln(stderr, "fitsqa cull:", oneLine(err))
		return exitNothing
	}
	showRefused(stdout, out.Refused, "not brought back")
	fmt.Fprintf(stdout, "%s moved back.\n", fact.Plural(len(out.Moved), "file"))
	return cullEnd(ctx, stderr, out, err)
}

func cullEnd(ctx context.Context, stderr io.Writer, out cull.Outcome, err error) int {
	switch {
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "fitsqa cull: interrupted; call it again to go on, or with --undo to go back")
		return exitInterrupted
	case err != nil:
		fmt.Fprintln(stderr, "fitsqa cull:", oneLine(err))
		return exitOutput
	}
	return partly(out.Refused)
}

func showRefused(w io.Writer, refused []cull.Refusal, what string) {
	for _, r := range refused {
		fmt.Fprintf(w, "%s: %s: %s\n", printable(r.Path), what, frames.Printable(r.Reason))
	}
}

// partly is the exit code of work that some files were left out of.
func partly(refused []cull.Refusal) int {
	if len(refused) > 0 {
		return exitUnreadable
	}
	return exitDone
}
