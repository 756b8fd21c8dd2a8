package web

import (
	"errors"
	"net/http"
	"strings"
	"time"

	"lotbook/api/problem"
	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/trace"
)

// setupScan takes a code that was scanned, a picture, or what was typed; with
// the codes and answers before it, if a scan was not finished.
func (p *Pages) setupScan(f *setupForm) error {
	d := parseDraft(f.value)
	for _, name := range []string{"quantity", "replaces", "choice"} {
		// parseDraft passes over what is no number; here that would record
		// something else than was meant.
		if f.value.Get(name) == "" {
			continue
		}
		if _, err := f.number(name); err != nil {
			return p.setupDone(f, inventory.Receipt{}, err, draft{})
		}
	}
	earlier, late := len(d.Lines), p.late(&d)
	if text := f.value.Get("text"); strings.TrimSpace(text) != "" {
		if len(text) >= scanner.MaxLength {
			return p.showSetup(f.c, setupState{status: http.StatusUnprocessableEntity, problem: &trouble{"This is longer than the text on any label.", "Scan one label at a time."}})
		}
		d.Lines = append(d.Lines, "t"+text)
	}
	fault, err := p.addPicture(f, &d)
	switch {
	case err != nil:
		return err
	case fault != nil:
		return p.unreadable(f, d, fault)
	case d.empty():
		return p.showSetup(f.c, setupState{status: http.StatusUnprocessableEntity, typed: d, problem: &trouble{"Nothing was scanned.", "Scan a code, take a picture, or choose the product and type the lot."}})
	}
	if len(d.Lines) > earlier {
		d.Since = p.Book.Now().Unix()
	}
	r, err := p.readNow(f, &d)
	if err != nil {
		return err
	}
	rest := d.earlier()
	if earlier > 0 && len(d.Lines) > earlier && (late || r.Outcome != reading.Ready) {
		// It is no second code of the same label, or came too late for
		// one. Taken by itself, it may be another pack; the first then still
		// waits for its lot.
		alone := draft{Lines: d.Lines[earlier:], Since: d.Since, Quantity: d.Quantity, Left: d.Left}
		open := d
		open.Lines = d.Lines[:earlier]
		one, err := p.readNow(f, &alone)
		if err != nil {
			return err
		}
		switch {
		case one.Outcome == reading.Ready:
			d, r, rest = alone, one, open
		case one.Outcome == reading.Unreadable:
			return p.unreadable(f, open, one.Fault)
		case late, r.Outcome == reading.NeedsChoice:
			alone.Left = open.query()
			d, r = alone, one
		}
	}
	switch r.Outcome {
	case reading.Ready:
	case reading.Unreadable:
		d.Lines = d.Lines[:earlier]
		return p.unreadable(f, d, r.Fault)
	default:
		see(f.c, setupURL(f.t)+"?"+d.query())
		return nil
	}
	if d.Replaces != 0 && d.Cause == "" {
		ask, err := p.askCause(f, &d, &r)
		if err != nil {
			return p.setupDone(f, inventory.Receipt{}, err, draft{})
		}
		if ask {
			see(f.c, setupURL(f.t)+"?"+d.query())
			return nil
		}
	}
	call := f.call()
	if call.Happened, err = p.clockTime(f, d.At); err != nil {
		return p.setupDone(f, inventory.Receipt{}, err, draft{})
	}
	rec, err := p.Book.Scan(f.c.Request.Context(), call, d.scan(&r, f.t))
	return p.setupDone(f, rec, err, rest)
}

// late reports whether a further code comes too long after the draft's last to
// be of the same pack.
func (p *Pages) late(d *draft) bool {
	return p.JoinWithin > 0 && d.Since > 0 && p.Book.Now().Sub(time.Unix(d.Since, 0)) > p.JoinWithin
}

// askCause reports whether it has to be asked why a pack takes over from
// another. One that is for something else takes over from nothing: the panel of
// the other was left open.
func (p *Pages) askCause(f *setupForm, d *draft, r *reading.Reading) (ask bool, err error) {
	err = p.Book.View(f.c.Request.Context(), func(rd inventory.Reader) error {
		t, err := trace.TreatmentByID(rd, f.t)
		if err != nil {
			return err
		}
		id := r.Stock.Product
		q, _, err := p.Book.ProductByGTIN(rd, r.Stock.GTIN)
		if r.Stock.GTIN == "" {
			if q, _, err = p.Book.ProductByCode(rd, id); err == nil && q == nil {
				q, err = p.Book.Product(rd, id)
			}
		}
		if err != nil {
			return err
		}
		ask = true
		for i := range t.Uses {
			if u := &t.Uses[i]; u.Entry == d.Replaces && q != nil && q.Category != u.Category {
				ask = false
			}
		}
		return nil
	})
	if !ask {
		d.Replaces, d.At = 0, ""
	}
	return ask, err
}

// readNow reads a draft on a snapshot of its own.
func (p *Pages) readNow(f *setupForm, d *draft) (out reading.Reading, err error) {
	err = p.Book.View(f.c.Request.Context(), func(r inventory.Reader) error {
		out, err = p.read(f.c, r, d)
		return err
	})
	return out, err
}

// addPicture adds the codes of a picture that came along.
func (p *Pages) addPicture(f *setupForm, d *draft) (*scanner.Fault, error) {
	file, _, err := f.c.Request.FormFile("picture")
	if errors.Is(err, http.ErrMissingFile) || errors.Is(err, http.ErrNotMultipart) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer func() { _ = file.Close() }()
	select {
	case p.pictures <- struct{}{}:
		defer func() { <-p.pictures }()
	case <-f.c.Request.Context().Done():
		return nil, problem.Busy("Other pictures are being read.")
	}
	codes, err := reading.Picture(f.c.Request.Context(), file, p.Picture, p.scanOptions())
	if err != nil {
		return nil, err
	}
	lines := reading.Carry(codes)
	if len(lines) == 0 && len(codes) > 0 {
		return codes[0].Error, nil
	}
	for _, l := range lines {
		d.Lines = append(d.Lines, "s"+l)
	}
	return nil, nil
}

// unreadable says why nothing was recorded, and keeps the question that was
// open before.
func (p *Pages) unreadable(f *setupForm, d draft, fault *scanner.Fault) error {
	lead, do := sentence(fault.Message), ""
	if i := strings.Index(fault.Message, "; "); i > 0 {
		lead, do = sentence(fault.Message[:i]), sentence(fault.Message[i+2:])
	}
	if do == "" {
		do = "Scan it again, scan another code of the pack, or type product and lot below."
	}
	return p.showSetup(f.c, setupState{status: http.StatusUnprocessableEntity, draft: d, problem: &trouble{"Not recorded. " + lead, do}, read: readable(f.value.Get("text"))})
}

// readable writes a text that a scanner sent as a person can read it, not all
// of one that is too long.
func readable(s string) string {
	s = strings.ReplaceAll(strings.TrimSpace(s), "\x1d", "␝")
	if r := []rune(s); len(r) > 120 {
		s = string(r[:120]) + " …"
	}
	return s
}
