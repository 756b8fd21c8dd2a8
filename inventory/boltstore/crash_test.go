package boltstore_test

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
)

// TestKill kills a process under load 50 times. Each time the store must open,
// verify, and hold what was acknowledged, and of each writer, which waits for
// one answer before it asks again, at most one more.
func TestKill(t *testing.T) {
	const folders, rounds = 5, 10
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	total, extra := 0, 0
	for f := range folders {
		dir := t.TempDir()
		writers := []int{1, 1, 4, 16, 64}[f]
		for round := range rounds {
			load := 150*time.Millisecond + time.Duration(random.Int64N(int64(150*time.Millisecond)))
			acknowledged := killUnderLoad(t, dir, writers, round, load)
			durable := appended(t, dir, round)
			for w := range writers {
				a, d := acknowledged[w], durable[w]
				if d < a || d > a+1 {
					t.Errorf("folder %d, round %d, writer %d: %d acknowledged, %d durable", f, round, w, a, d)
				}
				total += a
				extra += d - a
			}
			if err := check(dir); err != nil {
				t.Fatalf("folder %d, round %d: %v", f, round, err)
			}
		}
	}
	t.Logf("%d acknowledged in %d rounds, and %d more that were on their way", total, folders*rounds, extra)
	if total < folders*rounds {
		t.Errorf("only %d appends were acknowledged: there was no load", total)
	}
}

// killUnderLoad runs the child for so long and returns how many appends it
// acknowledged to each writer.
func killUnderLoad(t *testing.T, dir string, writers, round int, load time.Duration) map[int]int {
	t.Helper()
	cmd := child(t, "append", dir, strconv.Itoa(writers), strconv.Itoa(round))
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var stderr strings.Builder
	cmd.Stderr = &stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() || lines.Text() != "ready" {
		t.Fatalf("the child said %q and %s", lines.Text(), stderr.String())
	}
	time.AfterFunc(load, func() { _ = cmd.Process.Kill() })
	acknowledged := map[int]int{}
	for lines.Scan() {
		var r, w, i int
		if n, err := fmt.Sscan(lines.Text(), &r, &w, &i); n != 3 || err != nil {
			break // the line that it was writing
		}
		if r != round || i != acknowledged[w] {
			t.Fatalf("the child said %q after %d of that writer", lines.Text(), acknowledged[w])
		}
		acknowledged[w]++
	}
	if err := cmd.Wait(); err == nil || stderr.Len() > 0 {
		t.Fatalf("the child ended by itself: %v, %s", err, stderr.String())
	}
	return acknowledged
}

// appended opens a store and returns how many appends of a round it holds from
// each writer.
func appended(t *testing.T, dir string, round int) map[int]int {
	t.Helper()
	s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, MustExist: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	durable := map[int]int{}
	err = s.View(t.Context(), func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			var in, w, i int
			if _, err := fmt.Sscan(e.Key, &in, &w, &i); err != nil {
				return err
			}
			if in != round {
				continue
			}
			if i != durable[w] {
				t.Errorf("entry %d is number %d of writer %d, want %d", seq, i, w, durable[w])
			}
			durable[w]++
			if v, err := r.Get("all", []byte(e.Key)); v == nil || err != nil {
				t.Errorf("entry %d is there and its row is not", seq)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	// A retry of the last that is there gets its receipt.
	for w, n := range durable {
		_, err := s.Append(t.Context(), inventory.Request{
			Actor: fmt.Sprint("writer-", w), Key: fmt.Sprintf("%d %d %d", round, w, n-1),
			Decide: func(inventory.Reader) ([]inventory.Draft, error) {
				t.Errorf("writer %d: its last append has lost its key", w)
				return nil, nil
			},
		})
		if err != nil {
			t.Error(err)
		}
	}
	return durable
}
