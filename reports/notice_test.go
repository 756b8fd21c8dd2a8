package reports_test

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"lotbook/inventory"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// noticeOn writes a notice on lots of a product of the demo unit.
func noticeOn(t *testing.T, b *notice.Book, p inventory.ProductID, lots ...string) notice.ID {
	t.Helper()
	rec, err := b.Write(context.Background(), inventory.Call{Actor: "quality"}, notice.Writing{Another: true, Version: notice.Version{
		Reference: "FSN-2026-114", Issuer: "Invented Maker", Class: "II", Subject: "leaks", Received: "2026-11-20", Deadline: "2026-12-04",
		Lines:   []notice.Line{{Printed: "Dialyzer", Product: p, Scope: inventory.Scope{{Kind: inventory.ScopeLots, Lots: lots}}}},
		Actions: []notice.Action{{ID: "a", Text: "Stop using the lots."}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	ev, err := b.Registry().Decode(rec.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	return ev.(*notice.VersionWritten).Notice
}

func reply(t *testing.T, b *notice.Book, id notice.ID) *notice.KeptReply {
	t.Helper()
	_, err := b.Reply(context.Background(), inventory.Call{Actor: "quality"}, notice.Replying{Notice: id, ReplyWords: notice.ReplyWords{
		Sent: "by post", Site: "Harbour road 1", Adverse: notice.AdverseSome, AdverseWords: "one clotted circuit", Signer: "Quill Invented", Role: "Quality officer",
		Told: []notice.Informed{{Who: "the physicians of the unit", How: "by letter", On: "2026-11-21"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	k, err := b.Replied(context.Background(), id, 0)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// cells draws a workbook and reads every cell of it back with another library,
// with the sheet and the place before each, and the file's own properties.
func cells(t *testing.T, wb *reports.Workbook) []string {
	t.Helper()
	var b bytes.Buffer
	if err := xlsx.Write(context.Background(), &b, wb, xlsx.Options{TempDir: filepath.Join(t.TempDir(), "tmp")}); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&b)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []string
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range rows {
			for j, c := range r {
				if c != "" {
					out = append(out, fmt.Sprintf("%s %d,%d: %s", sheet, i+1, j+1, c))
				}
			}
		}
	}
	props, err := f.GetDocProps()
	if err != nil {
		t.Fatal(err)
	}
	return append(out, fmt.Sprintf("properties: %+v", *props))
}

// What goes to the maker has counts, and in no cell a patient's name or number,
// or a treatment's; what stays in the unit has all of them.
func TestReplyNamesNoPatient(t *testing.T) {
	ctx := context.Background()
	book, truth := inventedUnit(t)
	b := notice.NewBook(book)
	id := noticeOn(t, b, truth.Notice.Product, truth.Notice.Lots...)
	k := reply(t, b, id)
	if len(k.Answer.Patients) < 5 || k.Receipt != notice.ReceivedSome {
		t.Fatalf("the answer has %d patients, %s", len(k.Answer.Patients), k.Receipt)
	}
	var secret []string
	err := b.View(ctx, func(r inventory.Reader) error {
		list, err := trace.Patients(r)
		for _, p := range list {
			secret = append(secret, string(p.ID), p.Name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range k.Answer.Treatments {
		secret = append(secret, string(x.Treatment))
	}
	wb, err := reports.NoticeReply(k, reports.A4)
	if err != nil {
		t.Fatal(err)
	}
	maker := cells(t, wb)
	for _, c := range maker {
		for _, s := range secret {
			if strings.Contains(c, s) {
				t.Fatalf("the maker would read %q in %s", s, c)
			}
		}
	}
	all := strings.Join(maker, "\n")
	for _, want := range []string{
		"FSN-2026-114", "Invented Maker", "II", truth.Notice.GTIN, truth.Notice.Lots[0], "one clotted circuit", "the physicians of the unit", "Quill Invented", "Quality officer",
		"Signature", "Deadline", "Returned", "Destroyed", "Unaccounted", k.AsOf.Hash.String(), fmt.Sprint(k.Answer.Mass.Received), "A notice's own instructions come before anything printed here",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the reply lacks %q", want)
		}
	}
	by, err := reports.KeptAsked(k, reports.A4)
	if err != nil {
		t.Fatal(err)
	}
	unit := strings.Join(cells(t, reports.NoticeAnswer(k.Answer, by)), "\n")
	if asks, who := strings.Index(unit, "Stop using the lots."), strings.Index(unit, "Reference"); asks < 0 || asks > who {
		t.Error("what the notice asks for does not come first")
	}
	for _, p := range k.Answer.Patients {
		if !strings.Contains(unit, p.Name) {
			t.Errorf("the unit's workbook lacks %s", p.Name)
		}
	}
	// A patient named in the person's own words is caught before it goes out.
	_, err = b.Reply(ctx, inventory.Call{Actor: "quality"}, notice.Replying{Notice: id, ReplyWords: notice.ReplyWords{
		Sent: "by post", Adverse: notice.AdverseSome, AdverseWords: strings.ToUpper(k.Answer.Patients[0].Name) + " felt unwell", Signer: "Quill Invented", Role: "Quality officer",
	}})
	if err == nil || !strings.Contains(err.Error(), "named") {
		t.Errorf("a patient was named to the maker: %v", err)
	}
}

// A reply is made again, every cell the same, although lots moved, were used and
// were renamed since.
func TestReplyMadeAgain(t *testing.T) {
	ctx := context.Background()
	book, truth := inventedUnit(t)
	b := notice.NewBook(book)
	id := noticeOn(t, b, truth.Notice.Product, truth.Notice.Lots...)
	draw := func() (maker, unit []string) {
		k, err := b.Replied(ctx, id, 1)
		if err != nil {
			t.Fatal(err)
		}
		wb, err := reports.NoticeReply(k, reports.Letter)
		if err != nil {
			t.Fatal(err)
		}
		by, err := reports.KeptAsked(k, reports.Letter)
		if err != nil {
			t.Fatal(err)
		}
		return cells(t, wb), cells(t, reports.NoticeAnswer(k.Answer, by))
	}
	first := reply(t, b, id)
	maker, unit := draw()
	call := inventory.Call{Actor: "stock"}
	if _, err := b.Receive(ctx, call, inventory.Received{Stock: inventory.Stock{Product: truth.Notice.Product, Lot: truth.Notice.Lots[0], Quantity: 24}, To: "room"}); err != nil {
		t.Fatal(err)
	}
	var u inventory.Unit
	err := b.View(ctx, func(r inventory.Reader) error {
		now, err := b.Unit(r)
		if err == nil {
			u = *now
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	u.Name, u.TimeZone = "Another name", "Asia/Tokyo"
	if _, err := b.SetUnit(ctx, call, u); err != nil {
		t.Fatal(err)
	}
	if _, err := b.SetPatient(ctx, call, trace.PatientSet{ID: first.Answer.Patients[0].Patient, Name: "Renamed Invented"}); err != nil {
		t.Fatal(err)
	}
	now, err := b.Answer(ctx, id, 0)
	if err != nil {
		t.Fatal(err)
	}
	if now.Mass.Received != first.Answer.Mass.Received+24 {
		t.Fatalf("received %d before and %d now: the test changed nothing", first.Answer.Mass.Received, now.Mass.Received)
	}
	again, unitAgain := draw()
	for _, c := range []struct {
		what        string
		first, then []string
	}{{"the maker's", maker, again}, {"the unit's", unit, unitAgain}} {
		if len(c.first) < 50 || !slices.Equal(c.first, c.then) {
			for i := range c.first {
				if i >= len(c.then) || c.first[i] != c.then[i] {
					t.Fatalf("%s workbook made again differs, first in %s", c.what, c.first[i])
				}
			}
			t.Errorf("%s workbook made again has other cells: %d and %d", c.what, len(c.first), len(c.then))
		}
	}
	if second := reply(t, b, id); second.Number != 2 || second.Answer.Mass.Received != now.Mass.Received {
		t.Errorf("the second reply is %d with %d received", second.Number, second.Answer.Mass.Received)
	}
}

// "None received", "not known yet" and "not recorded" never look alike.
func TestReplyNoneReceived(t *testing.T) {
	ctx := context.Background()
	book, truth := inventedUnit(t)
	b := notice.NewBook(book)
	says := func(id notice.ID) (notice.Receipt, string) {
		k := reply(t, b, id)
		wb, err := reports.NoticeReply(k, reports.A4)
		if err != nil {
			t.Fatal(err)
		}
		return k.Receipt, strings.Join(cells(t, wb), "\n")
	}
	none := noticeOn(t, b, truth.Notice.Product, "NEVER-1", "NEVER-2")
	if r, text := says(none); r != notice.ReceivedUnnumbered || !strings.Contains(text, "without a lot number are, and they may have been") || strings.Contains(text, "None received:") {
		t.Errorf("uses without a lot number are on record: %s\n%s", r, text)
	}
	if err := decideAll(ctx, b, none); err != nil {
		t.Fatal(err)
	}
	if r, text := says(none); r != notice.ReceivedNone || !strings.Contains(text, "None received: the record was searched") || strings.Contains(text, "Not known yet") {
		t.Errorf("none received: %s\n%s", r, text)
	}
	open, err := b.Write(ctx, inventory.Call{Actor: "quality"}, notice.Writing{Version: notice.Version{
		Reference: "FSN-9", Issuer: "Invented Maker", Received: "2026-11-20",
		Lines: []notice.Line{{Printed: "Something nobody could match", Scope: inventory.Scope{{Kind: inventory.ScopeAll}}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	ev, err := b.Registry().Decode(open.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	if r, text := says(ev.(*notice.VersionWritten).Notice); r != notice.ReceiptUnknown || !strings.Contains(text, "Not known yet") || strings.Contains(text, "None received:") || !strings.Contains(text, "not searched for: Something nobody could match") {
		t.Errorf("a product that nobody could match: %s\n%s", r, text)
	}
}

// decideAll says of every lot in doubt that it is not meant.
func decideAll(ctx context.Context, b *notice.Book, id notice.ID) error {
	lots, err := b.Lots(ctx, id, 0)
	if err != nil {
		return err
	}
	for i := range lots {
		if l := &lots[i]; l.Verdict == inventory.Doubtful {
			d := notice.LotDecided{Notice: id, Product: l.Product, Lot: l.Lot, Reason: "the pack was looked at"}
			if _, err := b.Decide(ctx, inventory.Call{Actor: "quality"}, d); err != nil {
				return err
			}
		}
	}
	return nil
}

// Over several lots of the demo unit: the pieces of the total are the sum of the
// lots' own answers and the balance closes; each treatment counts once; and no
// true exposure is missing.
func TestNoticeAgainstTruth(t *testing.T) {
	for _, miss := range []float64{0, 0.05, 0.2, 0.5} {
		t.Run(fmt.Sprintf("missing=%v", miss), func(t *testing.T) { noticeAgainstTruth(t, miss) })
	}
}

func noticeAgainstTruth(t *testing.T, miss float64) {
	ctx := context.Background()
	book, truth := inventedUnitMissing(t, miss)
	b := notice.NewBook(book)
	lots := map[string]bool{}
	for _, tr := range truth.Treatments {
		for _, uses := range tr.Used {
			for _, u := range uses {
				if u.Product == truth.Notice.Product {
					lots[u.Lot] = true
				}
			}
		}
	}
	var list []string
	for l := range lots {
		list = append(list, l)
	}
	slices.Sort(list)
	if len(list) < 2 {
		t.Fatalf("the demo used %d lots of the product", len(list))
	}
	list = list[:len(list)-1]
	a, err := b.Answer(ctx, noticeOn(t, b, truth.Notice.Product, list...), 0)
	if err != nil {
		t.Fatal(err)
	}
	grades := map[trace.TreatmentID]trace.Grade{}
	var mass, doubt inventory.MassBalance
	asked := 0
	for _, l := range a.Lots {
		if slices.Contains(list, l.Lot) {
			asked++
		}
		// Pieces without a lot number may be of one of the lots.
		one, err := book.Exposures(ctx, trace.Question{Product: string(truth.Notice.Product), Lot: l.Lot, NoLot: l.Lot == ""})
		if err != nil {
			t.Fatal(err)
		}
		if l.Verdict == inventory.Meant {
			mass.Add(&one.Mass)
		} else {
			doubt.Add(&one.Mass)
		}
		take := func(x *trace.Exposure) error {
			grade := x.Grade
			if l.Verdict != inventory.Meant {
				grade = trace.NotExcluded // whoever met a lot in doubt can't be excluded, and no more
			}
			if g, ok := grades[x.Treatment]; !ok || grade.Surer(g) {
				grades[x.Treatment] = grade
			}
			return nil
		}
		if err := book.EachConfirmed(ctx, one, take); err != nil {
			t.Fatal(err)
		}
		for i := range one.Unrecorded {
			_ = take(&one.Unrecorded[i]) // never fails
		}
	}
	if asked != len(list) {
		t.Errorf("%d of the %d lots are in the answer", asked, len(list))
	}
	if a.Mass != mass || a.Mass.In() != a.Mass.Out() || a.Mass.Received == 0 {
		t.Errorf("mass balance %+v, the sum of the lots' own is %+v", a.Mass, mass)
	}
	if a.InDoubt != doubt || doubt.In() != doubt.Out() {
		t.Errorf("mass balance in doubt %+v, the sum of the lots' own is %+v", a.InDoubt, doubt)
	}
	if len(a.Treatments) != len(grades) {
		t.Errorf("%d treatments, the lots' own answers have %d", len(a.Treatments), len(grades))
	}
	count := map[trace.Grade]int{}
	patients := map[trace.PatientID]bool{}
	listed := map[trace.TreatmentID]bool{}
	for _, x := range a.Treatments {
		if listed[x.Treatment] || grades[x.Treatment] != x.Grade {
			t.Errorf("treatment %s is %s, by the lots' own answers %q (twice: %v)", x.Treatment, x.Grade, grades[x.Treatment], listed[x.Treatment])
		}
		listed[x.Treatment] = true
		count[x.Grade]++
		patients[x.Patient] = true
	}
	n := 0
	for _, c := range a.Counts {
		if c.Treatments != count[c.Grade] {
			t.Errorf("%s: %d treatments counted, %d listed", c.Grade, c.Treatments, count[c.Grade])
		}
		n += c.Patients
	}
	if n != len(patients) || n != len(a.Patients) {
		t.Errorf("%d patients counted, %d in the treatments, %d in the list", n, len(patients), len(a.Patients))
	}
	truly := 0
	for _, tr := range truth.Treatments {
		for _, uses := range tr.Used {
			for _, u := range uses {
				if u.Product == truth.Notice.Product && slices.Contains(list, u.Lot) {
					truly++
					if !listed[trace.TreatmentID(tr.ID)] {
						t.Errorf("treatment %s truly used lot %s and is not listed", tr.ID, u.Lot)
					}
				}
			}
		}
	}
	if truly == 0 {
		t.Error("the truth has no use of the lots")
	}
}
