package boltstore_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"sync"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

// childEnv, when set, makes the test binary a child process of a test: the
// name of a function of children, whose arguments follow on the command line.
const childEnv = "LOTBOOK_TEST_CHILD"

var children = map[string]func(args []string) error{
	"append": childAppend, "verify": childVerify, "hold": childHold, "rebuild": childRebuild,
	"crash": func([]string) error { panic("the test's own crash") },
	"hang":  func([]string) error { time.Sleep(time.Hour); return nil },
}

func TestMain(m *testing.M) {
	if name := os.Getenv(childEnv); name != "" {
		if err := children[name](os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// child returns a command that runs one of children.
func child(t testing.TB, name string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), self, args...)
	cmd.Env = append(os.Environ(), childEnv+"="+name)
	return cmd
}

// childAppend opens the store of a folder and appends from so many goroutines
// until it is killed. Each says "writer number" once that is durable, and
// appends the next only then.
func childAppend(args []string) error {
	dir := args[0]
	writers, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, LockTimeout: 5 * time.Second})
	if err != nil {
		return err
	}
	fmt.Println("ready") // before any writer speaks
	var wg sync.WaitGroup
	errs := make(chan error, writers)
	for w := range writers {
		wg.Go(func() { errs <- appendForEver(s, args[2], w) })
	}
	wg.Wait()
	return <-errs
}

func appendForEver(s inventory.Store, round string, w int) error {
	for i := 0; ; i++ {
		id := fmt.Sprintf("%s %d %d", round, w, i)
		_, err := s.Append(context.Background(), inventory.Request{
			Actor: fmt.Sprint("writer-", w), Key: id,
			Decide: inventorytest.Drafts(inventorytest.Change(
				inventorytest.Put("last", fmt.Sprint(w), id), inventorytest.Put("all", id, "1"),
				inventorytest.Put("hash", fmt.Sprintf("%08x", (i*31+w)*2654435761&0xffffffff), id))),
		})
		if err != nil {
			return err
		}
		if _, err := fmt.Println(id); err != nil {
			return err
		}
	}
}

// childHold opens a store, says so, and holds it until its input ends.
func childHold(args []string) error {
	s, err := boltstore.Open(args[0], boltstore.Options{Clock: time.Now})
	if err != nil {
		return err
	}
	fmt.Println("ready")
	var b [1]byte
	_, _ = os.Stdin.Read(b[:])
	return s.Close()
}

func childVerify(args []string) error {
	return boltstore.ServeVerify(context.Background(), os.Stdout, args[0], boltstore.VerifyOptions{Project: inventorytest.Project})
}
