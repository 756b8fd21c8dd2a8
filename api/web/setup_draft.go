package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/trace"
)

// A draft is a scan that is not recorded yet: the codes read so far and what
// was said beside them. It travels in forms and addresses, so that the server
// holds nothing between two requests.
type draft struct {
	// Lines are the codes: "t" and a line that was typed, by a scanner or a
	// person, or "s" and a symbol from a picture as reading.Carry writes it.
	Lines []string
	// Since is when the last of the lines came, in seconds since 1970.
	Since    int64
	Product  string
	GTIN     string
	Lot      string
	Expires  string
	NoLot    bool
	Choice   int
	Quantity int64
	// Opened: from a piece that was opened for another treatment.
	Opened   bool
	Category string
	// Replaces, Cause and At are those of a replacement.
	Replaces uint64
	Cause    string
	At       string
	// Left is an earlier draft, as a query, whose question is open as well.
	Left string
}

// A field is a hidden field of a form.
type field struct{ Name, Value string }

// longestLeft is how many bytes of earlier drafts an address carries: some five
// scans that nobody answered.
const longestLeft = 3000

// parseDraft reads a draft from a form or an address.
func parseDraft(v url.Values) draft {
	num := func(name string) uint64 {
		n, _ := strconv.ParseUint(strings.TrimSpace(v.Get(name)), 10, 32)
		return n
	}
	d := draft{
		Product: strings.TrimSpace(v.Get("product")), GTIN: strings.TrimSpace(v.Get("gtin")), Lot: strings.TrimSpace(v.Get("lot")),
		Expires: dateTyped(v.Get("expires")), NoLot: v.Get("no_lot") != "", Choice: int(num("choice")), Quantity: int64(num("quantity")),
		Since: int64(num("since")), Opened: v.Get("opened") != "", Category: v.Get("category"), Replaces: num("replaces"), Cause: strings.TrimSpace(v.Get("cause")), At: v.Get("at"), Left: v.Get("left"),
	}
	if v.Get("further") != "" {
		d.Replaces, d.Cause, d.At = 0, "", ""
	}
	if len(d.Left) > longestLeft {
		d.Left = ""
	}
	if s := strings.TrimSpace(v.Get("cause_typed")); s != "" {
		d.Cause = s
	}
	for _, l := range v["line"] {
		if len(l) > 1 && len(l) <= scanner.MaxLength && len(d.Lines) < 16 {
			d.Lines = append(d.Lines, l)
		}
	}
	return d
}

// dateTyped puts a date that was typed into the form of a date: "20270331" and
// "2027-03", which ends with its month, are taken as well. Anything else is left
// for the book to refuse.
func dateTyped(s string) string {
	s = strings.TrimSpace(s)
	if _, err := strconv.ParseUint(s, 10, 32); err == nil {
		switch len(s) {
		case len("202703"):
			s = s[:4] + "-" + s[4:]
		case len("20270331"):
			s = s[:4] + "-" + s[4:6] + "-" + s[6:]
		}
	}
	if len(s) == len("2027-03") {
		if d := inventory.LastDay(s); d != "" {
			return string(d)
		}
	}
	return s
}

// fields writes the draft as fields that parseDraft reads, without those named.
func (d *draft) fields(without ...string) []field {
	var fs []field
	put := func(name, value string) {
		if value != "" && !slices.Contains(without, name) {
			fs = append(fs, field{name, value})
		}
	}
	flag := func(name string, on bool) {
		if on {
			put(name, "1")
		}
	}
	number := func(name string, n int64) {
		if n != 0 {
			put(name, itoa(n))
		}
	}
	for _, l := range d.Lines {
		put("line", l)
	}
	number("since", d.Since)
	put("product", d.Product)
	put("gtin", d.GTIN)
	put("lot", d.Lot)
	put("expires", d.Expires)
	flag("no_lot", d.NoLot)
	number("choice", int64(d.Choice))
	number("quantity", d.Quantity)
	flag("opened", d.Opened)
	put("category", d.Category)
	number("replaces", int64(d.Replaces))
	put("cause", d.Cause)
	put("at", d.At)
	put("left", d.Left)
	return fs
}

func (d *draft) query() string {
	v := url.Values{}
	for _, f := range d.fields() {
		v.Add(f.Name, f.Value)
	}
	return v.Encode()
}

// empty reports whether nothing was scanned or named.
func (d *draft) empty() bool { return len(d.Lines) == 0 && d.Product == "" && d.GTIN == "" }

// codes reads the draft's lines again.
func (d *draft) codes(o scanner.Options) (codes []scanner.Code, how trace.How) {
	how = trace.Scanned
	for _, l := range d.Lines {
		switch l[0] {
		case 't':
			codes = append(codes, reading.Text(l[1:], o)...)
		case 's':
			codes = append(codes, reading.Carried([]string{l[1:]}, o)...)
			how = trace.Photo
		}
	}
	return codes, how
}

// read says what can be done with the draft.
func (p *Pages) read(c *gin.Context, r inventory.Reader, d *draft) (reading.Reading, error) {
	var failed error
	opts := p.scanOptions()
	var err error
	if opts.Profile, err = p.profile(c, r); err != nil {
		return reading.Reading{}, err
	}
	if d.Choice == 0 {
		opts.Known = reading.Known(r, func(err error) { failed = err })
	}
	codes, how := d.codes(opts)
	out := reading.Of(reading.Given{
		Codes: codes, Choice: d.Choice, Product: inventory.ProductID(d.Product), GTIN: gtin14(d.GTIN), Lot: d.Lot,
		NoLot: d.NoLot, Expires: inventory.Date(d.Expires), How: how,
		OnRecord: reading.OnRecord(p.Book, r, func(err error) { failed = err }),
	})
	return out, failed
}

// earlier returns the draft whose question was open before this one.
func (d *draft) earlier() draft {
	v, err := url.ParseQuery(d.Left)
	if err != nil {
		return draft{}
	}
	return parseDraft(v)
}

// scan returns what is to be recorded of a reading that is Ready.
func (d *draft) scan(r *reading.Reading, t trace.TreatmentID) trace.Scan {
	s := r.Scan(t)
	s.Quantity, s.OpenedBefore, s.Category = d.Quantity, d.Opened, inventory.Category(d.Category)
	s.Replaces, s.Cause = d.Replaces, d.Cause
	return s
}

// gtin14 puts zeros in front of a shorter GTIN.
func gtin14(s string) string {
	if n := len(s); n > 0 && n < 14 {
		return strings.Repeat("0", 14-n) + s
	}
	return s
}
