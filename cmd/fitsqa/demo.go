package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"fitsqa/internal/demo"
)

const demoAbout = `
Writes a synthetic night into DIR: bias, darks, flats and subs of an invented
camera, with clouds, a trailed run and other mishaps whose truth is known. The
truth is written beside the folder, as DIR.truth.json.

Nights:
`

func demoCommand() *cobra.Command {
	names := demoScenarioNames()
	var scenario string
	var seed uint64
	cmd := command("demo [flags] DIR", "write a made-up night with known truth", demoAbout+demoScenarioTable(), func(cmd *cobra.Command, args []string) int {
		return runDemo(cmd, scenario, seed, args)
	})
	cmd.Flags().StringVar(&scenario, "scenario", names[0], "which `night`")
	cmd.Flags().Uint64Var(&seed, "seed", 0, "`seed` of the noise and the sky; 0 takes the scenario's own")
	return cmd
}

func runDemo(cmd *cobra.Command, scenario string, seed uint64, args []string) int {
	ctx, stdout, stderr := cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr()
	if len(args) != 1 {
		return usageError(stderr, cmd, fmt.Errorf("name one folder to write into"))
	}
	sc, ok := demo.ScenarioNamed(scenario)
	if !ok {
		return usageError(stderr, cmd, fmt.Errorf("no scenario %q; there are %s", scenario, strings.Join(demoScenarioNames(), ", ")))
	}
	if seed != 0 {
		sc.Seed = seed
	}
	bar := newProgress(stderr)
	truth, err := demo.Write(ctx, args[0], sc, bar.stage("writing frames"))
	bar.finish()
	switch {
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "fitsqa demo: interrupted")
		return exitInterrupted
	case err != nil:
		fmt.Fprintln(stderr, "fitsqa demo:", oneLine(err))
		return exitOutput
	}
	fmt.Fprintf(stdout, "%d frames in %s, their truth in %s\n", truth.Frames, args[0], demo.TruthPath(args[0]))
	return exitDone
}

func demoScenarioTable() string {
	var lines strings.Builder
	for _, sc := range demo.Scenarios() {
		fmt.Fprintf(&lines, "  %-17s  %s\n", sc.Name, sc.Summary)
	}
	return lines.String()
}

func demoScenarioNames() []string {
	var names []string
	for _, sc := range demo.Scenarios() {
		names = append(names, sc.Name)
	}
	return names
}
