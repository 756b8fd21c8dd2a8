package main

import (
	"bytes"
	"context"
	"net"
	"os"
	"os/signal"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// The scripts run the program as a person does. Its clock stands still, at a
// time that the scripts' dates are made for.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"lotbook": func() {
		ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		e := &env{os.Stdin, os.Stdout, os.Stderr, scriptTime, os.Getenv}
		code := run(ctx, e, os.Args[1:])
		stop()
		os.Exit(code)
	}})
}

func scriptTime() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) }

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", RequireExplicitExec: true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"listens": listens},
	})
}

// listens waits until somebody listens on a socket.
func listens(ts *testscript.TestScript, _ bool, args []string) {
	for range 1200 {
		if c, err := net.Dial("unix", ts.MkAbs(args[0])); err == nil {
			ts.Check(c.Close())
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	ts.Fatalf("waited a minute for %s", args[0])
}

func TestUsageNamesEveryCommand(t *testing.T) {
	var out bytes.Buffer
	if code := run(context.Background(), &env{stdout: &out, stderr: &out}, []string{"help"}); code != exitOK {
		t.Errorf("help exits with %d", code)
	}
	for _, c := range commands() {
		if !bytes.Contains(out.Bytes(), []byte("lotbook "+c.usage)) {
			t.Errorf("help does not name %s", c.name)
		}
	}
}
