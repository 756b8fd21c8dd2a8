package web_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"lotbook/api"
	"lotbook/api/auth"
	"lotbook/api/web"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/scanner/picture"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// Invented GTINs with right check digits, in the range that GS1 keeps for
// documentation (0950…).
const (
	gtinDialyzer  = "09506000100012"
	gtinBloodline = "09506000100029"
	gtinAcid2K    = "09506000100036"
	gtinAcid3K    = "09506000100043"
	gtinBicarb    = "09506000100050"
	gtinNeedle    = "09506000100067"
	gtinSaline    = "09506000100074"
	gtinUnknown   = "09506000100104"
)

// joinWithin is how long the codes of a pack may be apart.
const joinWithin = 2 * time.Minute

const password = "three wet umbrellas"

var ctx = context.Background()

// A site is the whole service over a real store, with a small unit in it: on
// 25 November 2026 at 10:00 UTC, the middle of the morning shift.
type site struct {
	*trace.Book
	t        *testing.T
	now      *atomic.Int64
	url      string
	accounts *account.Accounts
	// line is what the connection is like.
	line atomic.Int32
	// held, while it is locked, keeps requests for a treatment waiting.
	held sync.RWMutex
}

// What a connection may be like.
const (
	whole int32 = iota
	answersLost
	dead
	busy
	portal
)

// over is the service behind such a connection.
func (s *site) over(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/setup/") {
			s.held.RLock()
			defer s.held.RUnlock()
		}
		switch s.line.Load() {
		case answersLost:
			h.ServeHTTP(httptest.NewRecorder(), r)
			panic(http.ErrAbortHandler)
		case busy:
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		case portal: // a network that wants its users to agree to something first
			_, _ = w.Write([]byte("<!doctype html><title>Guest network</title><p>Agree to go on."))
			return
		case dead:
			panic(http.ErrAbortHandler)
		}
		h.ServeHTTP(w, r)
	})
}

// hold keeps every request for a treatment waiting until go on is called.
func (s *site) hold() (goOn func()) {
	s.held.Lock()
	goOn = sync.OnceFunc(s.held.Unlock)
	s.t.Cleanup(goOn) // before the server is closed, which waits for answers
	return goOn
}

func (s *site) clock() time.Time     { return time.Unix(0, s.now.Load()).UTC() }
func (s *site) pass(d time.Duration) { s.now.Add(int64(d)) }

// open serves a store in a folder. When the test ends the store is closed and
// verified: every row must follow from the journal.
func open(t *testing.T, dir string, at time.Time) *site {
	t.Helper()
	s := &site{t: t, now: new(atomic.Int64)}
	s.now.Store(at.UnixNano())
	store, err := boltstore.Open(dir, boltstore.Options{Clock: s.clock, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	reg := inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events(), account.Events())
	s.Book = trace.NewBook(inventory.NewBook(store, reg, s.clock))
	set := account.DefaultSettings()
	set.Hash = account.Params{Memory: 64, Passes: 1, Lanes: 1} // fast, for tests
	s.accounts = account.New(store, reg, s.clock, set)
	temp := filepath.Join(dir, "tmp")
	h, err := api.New(api.Deps{
		Book: s.Book, Accounts: s.accounts, Version: "test", TempDir: temp,
		Pages: func(a *auth.Auth) (api.Pages, error) {
			// No deadline: what a picture shows must not depend on how busy
			// the machine is.
			return web.New(web.Deps{Book: s.Book, Auth: a, TempDir: temp, Version: "test", Demo: true, JoinWithin: joinWithin, Picture: picture.Options{Deadline: -1}})
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.over(h))
	s.url = srv.URL
	t.Cleanup(func() {
		srv.Close()
		if err := store.Close(); err != nil {
			t.Error(err)
		}
		verify(t, dir, reg)
	})
	return s
}

// people adds a user of each role, called like the role.
func (s *site) people() {
	s.t.Helper()
	for _, r := range account.Roles() {
		call := inventory.Call{Actor: string(account.Console)}
		if _, err := s.accounts.Add(ctx, call, account.NewUser{ID: account.UserID(r), Name: names[r], Role: r}, password); err != nil {
			s.t.Fatal(err)
		}
	}
}

var names = map[account.Role]string{
	account.Nurse: "Nelvia Testwell", account.Stock: "Sorrel Placehold", account.Quality: "Quenby Exempla", account.Administrator: "Avelo Specimann",
}

// newSite opens a small unit.
func newSite(t *testing.T) *site {
	t.Helper()
	s := open(t, t.TempDir(), time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC))
	s.people()
	for _, l := range []inventory.Location{
		{ID: "room", Name: "Supply room", Type: inventory.SupplyRoom},
		{ID: "cart-a", Name: "Cart A", Type: inventory.Cart},
	} {
		s.ok(s.SetLocation(ctx, by("administrator"), l))
	}
	each := func(gtin string) []inventory.Pack {
		return []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtin, Holds: 1}}
	}
	acid := func(k int64) inventory.Facts {
		return inventory.Facts{MixSystem: inventory.Mix45X, Potassium: k, Calcium: 1250, IonsKnown: true, FillVolume: 5000}
	}
	s.ok(s.SetProducts(
		ctx, by("stock"),
		inventory.Product{ID: "DLZ", Name: "Dialyzer 1.8 m²", Category: inventory.Dialyzer, Packs: each(gtinDialyzer)},
		inventory.Product{ID: "BLS", Name: "Bloodline set", Category: inventory.BloodlineSet, Packs: each(gtinBloodline)},
		inventory.Product{ID: "A2K", Name: "Acid concentrate 45X K 2.0", Category: inventory.AcidConcentrate, Packs: each(gtinAcid2K), Facts: acid(2000)},
		inventory.Product{ID: "A3K", Name: "Acid concentrate 45X K 3.0", Category: inventory.AcidConcentrate, Packs: each(gtinAcid3K), Facts: acid(3000)},
		inventory.Product{ID: "BIC", Name: "Bicarbonate cartridge", Category: inventory.Bicarbonate, Packs: each(gtinBicarb)},
		inventory.Product{ID: "NDL", Name: "Fistula needle 15 G", Category: inventory.FistulaNeedle, Packs: each(gtinNeedle)},
		inventory.Product{ID: "STR", Name: "Chlorine test strip", Category: inventory.TestStrip},
		inventory.Product{ID: "SAL", Name: "Saline 0.9% 1 L", Category: inventory.Saline, Packs: each(gtinSaline)},
	))
	set := inventory.DefaultUnit()
	set.Name = "Invented unit"
	set.Defaults = map[inventory.Category]inventory.ProductID{
		inventory.BloodlineSet: "BLS", inventory.Bicarbonate: "BIC", inventory.FistulaNeedle: "NDL", inventory.Saline: "SAL",
	}
	s.ok(s.SetUnit(ctx, by("administrator"), set))
	for _, n := range []string{"1", "2"} {
		s.ok(s.SetMachine(ctx, by("administrator"), trace.Machine{ID: trace.MachineID("M" + n), Name: "Machine " + n}))
		s.ok(s.SetStation(ctx, by("administrator"), trace.Station{ID: trace.StationID("S" + n), Name: "Station " + n, Location: "cart-a", Machine: trace.MachineID("M" + n)}))
		id := trace.PatientID("P" + n)
		s.ok(s.SetPatient(ctx, by("nurse"), trace.PatientSet{ID: id, Name: map[string]string{"1": "Imagino Fabelmann", "2": "Rosalba Noxample"}[n]}))
		s.ok(s.SetPrescription(ctx, by("nurse"), trace.PrescriptionSet{Patient: id, Prescription: inventory.Prescription{
			Products: map[inventory.Category]inventory.ProductID{inventory.Dialyzer: "DLZ", inventory.AcidConcentrate: "A2K"},
			Access:   inventory.Fistula, Minutes: 240, BloodFlow: 400, FlowFactor: 1800,
		}}))
	}
	shift := inventory.Shift{Date: "2026-11-25", Number: 1}
	s.ok(s.Schedule(ctx, by("nurse"), trace.Slot{Shift: shift, Station: "S1", Patient: "P1"}, trace.Slot{Shift: shift, Station: "S2", Patient: "P2"}))
	for _, r := range []inventory.Stock{
		{Product: "DLZ", Lot: "D-4711", Expires: "2028-03-31", Quantity: 24},
		{Product: "DLZ", Lot: "D-385", Expires: "2026-10-31", Quantity: 2},
		{Product: "A2K", Lot: "A-882", Expires: "2027-06-30", Quantity: 8},
		{Product: "A3K", Lot: "A-901", Expires: "2027-06-30", Quantity: 8},
		{Product: "SAL", Lot: "S-100", Expires: "2027-12-31", Quantity: 20},
		{Product: "STR", Lot: "T-9", Expires: "2027-05-31", Quantity: 100},
		{Product: "NDL", Lot: "N-55", Expires: "2029-01-31", Quantity: 100},
	} {
		s.ok(s.Receive(ctx, by("stock"), inventory.Received{Stock: r, To: "cart-a"}))
	}
	return s
}

func by(actor string) inventory.Call { return inventory.Call{Actor: actor} }

func (s *site) ok(rec inventory.Receipt, err error) inventory.Receipt {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
	return rec
}

// treatment returns the one open treatment.
func (s *site) treatment() *trace.Treatment {
	s.t.Helper()
	var list []*trace.Treatment
	err := s.View(ctx, func(r inventory.Reader) error {
		return trace.ScanOpen(r, func(t *trace.Treatment) error { list = append(list, t); return nil })
	})
	if err != nil || len(list) != 1 {
		s.t.Fatalf("%d open treatments, %v; want one", len(list), err)
	}
	return list[0]
}

// entries returns how many entries the journal has.
func (s *site) entries() uint64 {
	s.t.Helper()
	var n uint64
	if err := s.View(ctx, func(r inventory.Reader) error { n = r.Head().Seq; return nil }); err != nil {
		s.t.Fatal(err)
	}
	return n
}

func verify(t *testing.T, dir string, reg *inventory.Registry) {
	rep, err := boltstore.Verify(ctx, dir, boltstore.VerifyOptions{Project: reg.Project})
	if err == nil {
		err = rep.Err()
	}
	if err != nil {
		t.Errorf("verify: %v", err)
	}
}
