package inventorytest

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// A model is what a store should hold, in plain maps.
type model struct {
	entries []journal.Entry
	rows    map[inventory.Index]map[string]string
	keys    map[[2]string]use
	secrets map[string]string
}

type use struct {
	digest journal.Hash
	first  uint64
	parts  int
}

func newModel() *model {
	return &model{
		rows: map[inventory.Index]map[string]string{"x": {}, "y": {}, "xy": {}},
		keys: map[[2]string]use{}, secrets: map[string]string{},
	}
}

func (m *model) apply(ops []Op) {
	for _, op := range ops {
		if op.Delete {
			delete(m.rows[op.Index], string(op.Key))
		} else {
			m.rows[op.Index][string(op.Key)] = string(op.Value)
		}
	}
}

// The values that a machine draws from. They are few, so that they meet.
var (
	someIndex = rapid.SampledFrom([]inventory.Index{"x", "y", "xy"})
	someKey   = rapid.OneOf(rapid.StringOfN(rapid.SampledFrom([]rune{'a', 'b', 'c'}), 1, 4, -1), rapid.SampledFrom(keys))
	someBound = rapid.OneOf(rapid.StringOfN(rapid.SampledFrom([]rune{'a', 'b', 'c'}), 0, 3, -1), rapid.SampledFrom(bounds()))
	someValue = rapid.OneOf(rapid.StringN(0, 6, -1), rapid.Custom(func(t *rapid.T) string {
		return strings.Repeat("v", rapid.IntRange(500, 5000).Draw(t, "length"))
	}))
	someOp = rapid.Custom(func(t *rapid.T) Op {
		ix, key := someIndex.Draw(t, "index"), someKey.Draw(t, "key")
		if rapid.IntRange(0, 3).Draw(t, "delete") == 0 {
			return Delete(ix, key)
		}
		return Put(ix, key, someValue.Draw(t, "value"))
	})
	someOps   = rapid.SliceOfN(someOp, 0, 12)
	someActor = rapid.SampledFrom([]string{"user-1", "user-2"})
	someToken = rapid.SampledFrom([]string{"", "", "k1", "k2", "k3"})
	someName  = rapid.SampledFrom([]string{"s/1", "s/2", "u/1"})
)

// testModel has a store and a model do the same things in random order, and
// compares all of them after each.
func testModel(t *testing.T, target Target) {
	rapid.Check(t, func(rt *rapid.T) {
		m := &machine{bench: newBench(rt, target, t.TempDir()), model: newModel(), rt: rt}
		defer m.tearDown()
		rt.Repeat(map[string]func(*rapid.T){
			"append": m.append1, "fail": m.fail, "again": m.again,
			"many": m.many, "secret": m.secret, "reopen": func(*rapid.T) { m.reopen() },
			"scan": m.scan, "": func(*rapid.T) { m.check() },
		})
		m.reopen()
		m.check()
	})
}

type machine struct {
	*bench
	*model
	rt *rapid.T
}

// append1 appends one request, with a key that may have been used.
func (m *machine) append1(t *rapid.T) {
	var drafts []inventory.Draft
	var ops []Op
	for range rapid.IntRange(1, 3).Draw(t, "parts") {
		some := someOps.Draw(t, "ops")
		ops = append(ops, some...)
		drafts = append(drafts, Change(some...))
	}
	req := inventory.Request{
		Actor: someActor.Draw(t, "actor"), Key: someToken.Draw(t, "key"),
		Digest: journal.Sum([]byte(fmt.Sprint(ops))), Decide: Drafts(drafts...),
	}
	r, err := m.store.Append(m.ctx, req)
	id := [2]string{req.Actor, req.Key}
	before, used := m.keys[id]
	used = used && req.Key != ""
	switch {
	case used && before.digest != req.Digest:
		if !errors.Is(err, inventory.ErrKeyReused) {
			t.Fatalf("key %v: error %v, want ErrKeyReused", id, err)
		}
	case err != nil:
		t.Fatal(err)
	case used:
		m.same(t, r, before)
	default:
		if r.Replayed || len(r.Entries) != len(drafts) {
			t.Fatalf("receipt %+v", r)
		}
		m.taken(r, ops)
	}
}

// taken notes what was appended.
func (m *machine) taken(r inventory.Receipt, ops []Op) {
	m.entries = append(m.entries, r.Entries...)
	m.apply(ops)
	if e := r.Entries[0]; e.Key != "" {
		m.keys[[2]string{e.Actor, e.Key}] = use{e.Digest, e.Seq, len(r.Entries)}
	}
}

func (m *machine) same(t *rapid.T, r inventory.Receipt, u use) {
	if !r.Replayed || len(r.Entries) != u.parts {
		t.Fatalf("receipt %+v, want entries %d and on, replayed", r, u.first)
	}
	for i, e := range r.Entries {
		if err := sameEntry(e, m.entries[int(u.first)-1+i]); err != nil {
			t.Fatal(err)
		}
	}
}

// fail appends what fails in Decide or in Rows.
func (m *machine) fail(t *rapid.T) {
	ops := someOps.Draw(t, "ops")
	req := inventory.Request{Actor: "user-1", Key: "failed", Decide: Drafts(Change(ops...), failing(func() error { return errTest }))}
	if rapid.Bool().Draw(t, "in Decide") {
		req.Decide = func(inventory.Reader) ([]inventory.Draft, error) { return nil, errTest }
	}
	if _, err := m.store.Append(m.ctx, req); !errors.Is(err, errTest) {
		t.Fatalf("error %v, want the test's", err)
	}
}

// again sends a request that was taken before.
func (m *machine) again(t *rapid.T) {
	if len(m.keys) == 0 {
		t.Skip("no key was used")
	}
	ids := slices.Collect(maps.Keys(m.keys))
	slices.SortFunc(ids, func(a, b [2]string) int { return slices.Compare(a[:], b[:]) })
	id := rapid.SampledFrom(ids).Draw(t, "id")
	r, err := m.store.Append(m.ctx, inventory.Request{
		Actor: id[0], Key: id[1], Digest: m.keys[id].digest,
		Decide: func(inventory.Reader) ([]inventory.Draft, error) { return nil, errTest },
	})
	if err != nil {
		t.Fatal(err)
	}
	m.same(t, r, m.keys[id])
}

// many appends from several goroutines; some fail. The journal says in which
// order they came.
func (m *machine) many(t *rapid.T) {
	all := rapid.SliceOfN(someOps, 2, 8).Draw(t, "requests")
	type outcome struct {
		receipt inventory.Receipt
		err     error
	}
	outcomes := make([]chan outcome, len(all))
	for i, ops := range all {
		outcomes[i] = make(chan outcome, 1)
		drafts := []inventory.Draft{Change(ops...)}
		if i%3 == 2 {
			drafts = append(drafts, failing(func() error { return errTest }))
		}
		go func() {
			r, err := m.store.Append(m.ctx, inventory.Request{Actor: "user-3", Decide: Drafts(drafts...)})
			outcomes[i] <- outcome{r, err}
		}()
	}
	type done struct {
		receipt inventory.Receipt
		ops     []Op
	}
	var taken []done
	for i := range all {
		o := <-outcomes[i]
		switch {
		case i%3 == 2 && !errors.Is(o.err, errTest), i%3 != 2 && o.err != nil:
			t.Fatalf("request %d: %v", i, o.err)
		case o.err == nil:
			taken = append(taken, done{o.receipt, all[i]})
		}
	}
	slices.SortFunc(taken, func(a, b done) int { return int(a.receipt.Entries[0].Seq) - int(b.receipt.Entries[0].Seq) })
	for _, d := range taken {
		m.taken(d.receipt, d.ops)
	}
}

func (m *machine) secret(t *rapid.T) {
	name, value := someName.Draw(t, "name"), rapid.StringN(0, 5, -1).Draw(t, "value")
	if rapid.IntRange(0, 2).Draw(t, "delete") == 0 {
		delete(m.secrets, name)
		m.must(m.store.Vault().Delete(m.ctx, name))
		return
	}
	m.secrets[name] = value
	m.must(m.store.Vault().Put(m.ctx, name, []byte(value)))
}

// scan compares a scan between random bounds.
func (m *machine) scan(t *rapid.T) {
	ix, prefix := someIndex.Draw(t, "index"), someBound.Draw(t, "prefix")
	var from *string
	if rapid.Bool().Draw(t, "from") {
		f := someBound.Draw(t, "bound")
		from = &f
	}
	back := rapid.Bool().Draw(t, "back")
	rows := slices.Sorted(maps.Keys(m.rows[ix]))
	m.view(func(r inventory.Reader) error {
		var got []string
		do, start := r.Scan, []byte(nil)
		if from != nil {
			start = []byte(*from)
		}
		if back {
			do = r.ScanBack
		}
		err := do(ix, []byte(prefix), start, func(k, v []byte) error {
			if string(v) != m.rows[ix][string(k)] {
				t.Fatalf("row %q has another value", k)
			}
			got = append(got, string(k))
			return nil
		})
		if want := wantScan(rows, prefix, from, back); !slices.Equal(got, want) {
			t.Fatalf("scan of %q, prefix %q: %q, want %q", ix, prefix, got, want)
		}
		return err
	})
}

// check compares all that the store holds with the model.
func (m *machine) check() {
	t := m.rt
	m.view(func(r inventory.Reader) error {
		var want journal.Head
		for i, e := range m.entries {
			got, err := r.Entry(uint64(i + 1))
			if err != nil {
				return err
			}
			if err := sameEntry(got, e); err != nil {
				return err
			}
			if e.Prev != want.Hash {
				t.Fatalf("entry %d does not follow from the one before", e.Seq)
			}
			want = journal.Head{Seq: e.Seq, Hash: journal.Sum(e.AppendCanonical(nil))}
		}
		if h := r.Head(); h != want {
			t.Fatalf("the head is %v, want %v", h, want)
		}
		for ix, rows := range m.rows {
			n := 0
			err := r.Scan(ix, nil, nil, func(k, v []byte) error {
				if w, ok := rows[string(k)]; !ok || w != string(v) {
					t.Fatalf("index %q has a row %q = %q; the model: %q, %v", ix, k, v, w, ok)
				}
				n++
				return nil
			})
			if err != nil {
				return err
			}
			if n != len(rows) {
				t.Fatalf("index %q has %d rows, the model %d", ix, n, len(rows))
			}
		}
		return nil
	})
	secrets := map[string]string{}
	m.must(m.store.Vault().Scan(m.ctx, "", func(k string, v []byte) error { secrets[k] = string(v); return nil }))
	if !maps.Equal(secrets, m.secrets) {
		t.Fatalf("the vault has %v, the model %v", secrets, m.secrets)
	}
}
