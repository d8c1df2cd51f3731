package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

// untilSignal is a context that ends with a signal that asks the program to end.
func untilSignal(ctx context.Context) (context.Context, context.CancelFunc) {
	ends := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // nohup asks to live on
		ends = append(ends, syscall.SIGHUP)
	}
	return signal.NotifyContext(ctx, ends...)
}
