package trace_test

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

// drawn returns the happenings of a seed: the same in every process.
func drawn(seed int) []happening { return rapid.Custom(happenings(60)).Example(seed) }

// crashFolder is set in the process that TestKilledInTheMiddle starts: its store
// and the seed of what it records.
const crashFolder = "LOTBOOK_TEST_CRASH"

// TestCrashChild records what happens and says each happening's number when it
// is acknowledged, in the process that the next test starts; it does nothing
// elsewhere.
func TestCrashChild(t *testing.T) {
	dir, seed, ok := strings.Cut(os.Getenv(crashFolder), " ")
	if !ok {
		return
	}
	n, err := strconv.Atoi(seed)
	if err != nil {
		t.Fatal(err)
	}
	s, err := boltstore.Open(dir, boltstore.Options{Clock: smallClock})
	if err != nil {
		t.Fatal(err)
	}
	hs := drawn(n)
	b := newSmallBook(t, s)
	recordAll(t, b, hs, inTurn(hs), func(i int) { fmt.Println("acknowledged", i) })
	fmt.Println("done")
	select {} // until it is killed
}

// TestKilledInTheMiddle kills a process with SIGKILL while it records what
// happens, at any moment. What it acknowledged is there, with at most one more;
// the pieces are those of just that much of what happened; and the rest, sent
// again with its keys, makes the whole.
func TestKilledInTheMiddle(t *testing.T) {
	seed := rand.IntN(1 << 30)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(uint64(seed), 0))
	rounds := 12
	for round := range rounds {
		hs := drawn(seed + round)
		dir := filepath.Join(t.TempDir(), "store")
		acknowledged := killedAfter(t, dir, seed+round, random.IntN(len(hs)+1))
		s, err := boltstore.Open(dir, boltstore.Options{Clock: smallClock, NoSync: true})
		if err != nil {
			t.Fatal(err)
		}
		b := newSmallBook(t, s)
		durable := recorded(t, b)
		if durable < acknowledged || durable > acknowledged+1 {
			t.Errorf("round %d: %d acknowledged, %d durable of %d", round, acknowledged, durable, len(hs))
		}
		conclude(t, b, happened(hs, inTurn(hs[:durable])))
		recordAll(t, b, hs, inTurn(hs), nil)
		conclude(t, b, happened(hs, inTurn(hs)))
		if got := recorded(t, b); got != len(hs) {
			t.Errorf("round %d: %d happenings are on record, of %d", round, got, len(hs))
		}
		if err := errors.Join(s.Close(), inventorytest.CheckBolt(dir, registry().Project)); err != nil {
			t.Errorf("round %d: %v", round, err)
		}
	}
}

// killedAfter starts the child, kills it when it has said so many lines, and
// returns how many happenings it acknowledged.
func killedAfter(t *testing.T, dir string, seed, lines int) (acknowledged int) {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run", "^TestCrashChild$")
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s %d", crashFolder, dir, seed))
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(out)
	for said.Scan() {
		n, ok := strings.CutPrefix(said.Text(), "acknowledged ")
		switch {
		case ok && n == strconv.Itoa(acknowledged):
			acknowledged++
		case said.Text() == "done":
		case acknowledged < lines:
			t.Errorf("the child said %q", said.Text())
		}
		if acknowledged >= lines || said.Text() == "done" {
			_ = cmd.Process.Kill() // what it said until then is still read
		}
	}
	_ = cmd.Wait()
	return acknowledged
}

// recorded returns how many happenings are on record, by their keys.
func recorded(t *testing.T, b *smallBook) int {
	t.Helper()
	keys := map[string]bool{}
	err := b.View(ctx, func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			if strings.HasPrefix(e.Key, "happening ") {
				keys[e.Key] = true
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return len(keys)
}
