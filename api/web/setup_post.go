package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/trace"
)

// A setupForm is a form of the setup page that was sent.
type setupForm struct {
	c     *gin.Context
	id    auth.Identity
	t     trace.TreatmentID
	value url.Values
}

// setupPost takes the forms of the setup page; the field "action" says which.
func (p *Pages) setupPost(c *gin.Context) error {
	id, err := identity(c)
	if err != nil {
		return err
	}
	v, err := postForm(c)
	if large := (*http.MaxBytesError)(nil); errors.As(err, &large) {
		return p.showSetup(c, setupState{status: http.StatusRequestEntityTooLarge, problem: &trouble{"The picture is larger than " + itoa(large.Limit>>20) + " MB.", "Take it at a lower resolution, or scan the code."}})
	}
	if err != nil {
		return err
	}
	f := &setupForm{c, id, treatmentID(c), v}
	f.value, _ = strayCode(f.value)
	if err := tooLong(f.value); err != nil {
		return p.setupDone(f, inventory.Receipt{}, err, draft{})
	}
	var rec inventory.Receipt
	switch action := f.value.Get("action"); action {
	case "scan":
		return p.setupScan(f)
	case "answer":
		rec, err = p.setupAnswer(f)
	case "absent":
		rec, err = p.setupAbsent(f)
	case "problem":
		rec, err = p.setupProblem(f)
	case "strike":
		rec, err = p.setupStrike(f)
	case "again":
		rec, err = p.setupAgain(f)
	case "reclose":
		rec, err = p.setupReclose(f)
	case "close", "not_done":
		rec, err = p.setupClose(f)
	default:
		err = inventory.Invalid("action", "Load the page again.", "there is no form %q", action)
	}
	return p.setupDone(f, rec, err, draft{})
}

// setupDone shows what was recorded, by a page that can be loaded again, or
// says beside the forms why nothing was.
func (p *Pages) setupDone(f *setupForm, rec inventory.Receipt, err error, rest draft) error {
	var refusal *inventory.Refusal
	switch {
	case errors.As(err, &refusal) && !errors.Is(err, inventory.ErrNotFound):
		status := http.StatusUnprocessableEntity
		if errors.Is(err, inventory.ErrConflict) {
			status = http.StatusConflict
		}
		pr, err := p.answered(f, refusal)
		if err != nil {
			return err
		}
		s := setupState{status: status, problem: pr}
		switch d := parseDraft(f.value); {
		case f.value.Get("form") == "typed":
			s.typed = d
		case f.value.Get("action") == "scan" && d.Replaces != 0:
			// What was said of the replacement stands; a time that can't
			// be taken does not.
			d.Lines = nil
			if refusal.Field == "at" {
				d.At = ""
			}
			s.draft = d
		}
		return p.showSetup(f.c, s)
	case err != nil:
		return err
	}
	to := setupURL(f.t)
	q := rest.query()
	if n := len(rec.Entries); n > 0 {
		if q != "" {
			q = "&" + q
		}
		q = "done=" + itoa(rec.Entries[n-1].Seq) + q
	}
	if q != "" {
		to += "?" + q
	}
	see(f.c, to)
	return nil
}

// call says who asks, under the form's key, and when it happened.
func (f *setupForm) call() inventory.Call { return f.id.Call(f.value.Get("key")) }

// said returns what was said: a button's text, or else what was typed.
func (f *setupForm) said(name string) string {
	if s := strings.TrimSpace(f.value.Get(name + "_typed")); s != "" {
		return s
	}
	return strings.TrimSpace(f.value.Get(name))
}

func (f *setupForm) number(name string) (uint64, error) {
	n, err := strconv.ParseUint(strings.TrimSpace(f.value.Get(name)), 10, 63)
	if err != nil {
		return 0, inventory.Invalid(name, "Give a whole number.", "%q is not a number", f.value.Get(name))
	}
	return n, nil
}

func (p *Pages) setupAnswer(f *setupForm) (inventory.Receipt, error) {
	stopped, err := f.number("stopped")
	if err != nil {
		return inventory.Receipt{}, err
	}
	return p.Book.Answer(f.c.Request.Context(), f.call(), trace.Answer{
		Treatment: f.t, Stopped: stopped, Used: f.value.Get("used") == "1", Reason: f.said("reason"),
	})
}

// setupAbsent records why something is not recorded. A quick cause is a button
// of one of two groups, "used" and "without"; what is typed goes with the group
// chosen beside it.
func (p *Pages) setupAbsent(f *setupForm) (inventory.Receipt, error) {
	n := trace.Unrecorded{Treatment: f.t, Category: inventory.Category(f.value.Get("category"))}
	if cause := f.value.Get("cause_used"); cause != "" {
		n.Used, n.Cause = true, cause
	} else if cause := f.value.Get("cause_without"); cause != "" {
		n.Cause = cause
	} else {
		n.Used, n.Cause = f.value.Get("group") != "without", strings.TrimSpace(f.value.Get("cause_typed"))
	}
	call := f.call()
	if s := f.value.Get("replaces"); s != "" && s != "0" {
		var err error
		if n.Replaces, err = f.number("replaces"); err != nil {
			return inventory.Receipt{}, err
		}
		n.Used, n.Cause = true, f.said("cause")
		if call.Happened, err = p.clockTime(f, f.value.Get("at")); err != nil {
			return inventory.Receipt{}, err
		}
	}
	return p.Book.NotRecorded(f.c.Request.Context(), call, n)
}

// setupStrike strikes out an entry of this treatment.
func (p *Pages) setupStrike(f *setupForm) (inventory.Receipt, error) {
	seq, err := f.number("entry")
	if err != nil {
		return inventory.Receipt{}, err
	}
	if _, err := p.own(f, seq); err != nil {
		return inventory.Receipt{}, err
	}
	rec, err := p.Book.Correct(f.c.Request.Context(), f.call(), seq, f.said("reason"))
	if len(rec.Entries) > 1 {
		rec.Entries = rec.Entries[:1] // what it gives back is behind it
	}
	return rec, err
}

// own returns an entry of this treatment.
func (p *Pages) own(f *setupForm, seq uint64) (ev inventory.Event, err error) {
	err = p.Book.View(f.c.Request.Context(), func(r inventory.Reader) error {
		ev, err = p.event(r, seq)
		return err
	})
	if err == nil && (ev == nil || treatmentOf(ev) != f.t) {
		err = inventory.Invalid("entry", "Choose an entry of this treatment.", "entry %d is not one of this treatment", seq)
	}
	return ev, err
}

// setupAgain strikes out a use and records it again with another quantity or
// category. Both entries have a key of their own made from the form's, so that
// sending the form again completes what was interrupted.
func (p *Pages) setupAgain(f *setupForm) (inventory.Receipt, error) {
	seq, err := f.number("entry")
	if err != nil {
		return inventory.Receipt{}, err
	}
	ev, err := p.own(f, seq)
	if err != nil {
		return inventory.Receipt{}, err
	}
	u, ok := ev.(*trace.Used)
	if !ok {
		return inventory.Receipt{}, inventory.Invalid("entry", "Choose a use of this treatment.", "entry %d is no use", seq)
	}
	s := trace.Scan{
		Treatment: f.t, Stock: u.Stock, How: u.How, Code: u.Code, Category: u.Category, OpenedBefore: u.OpenedBefore,
		Reason: u.Reason, Replaces: u.Replaces, Cause: u.Cause,
	}
	s.Findings, s.Packs = nil, 0
	reason := "recorded again"
	if c := f.value.Get("category"); c != "" {
		s.Category = inventory.Category(c)
		reason = "recorded again as " + s.Category.Title()
	}
	if f.value.Get("quantity") != "" {
		n, err := f.number("quantity")
		if err != nil {
			return inventory.Receipt{}, err
		}
		s.Quantity, s.OpenedBefore = int64(n), u.OpenedBefore && n == 0
		reason = "recorded again with " + plural(int(n), "piece", "pieces")
	}
	if f.value.Get("replaces") != "" {
		if s.Replaces, err = f.number("replaces"); err != nil {
			return inventory.Receipt{}, err
		}
		s.Cause = f.said("cause")
		reason = "recorded again as a replacement"
	}
	var happened time.Time
	err = p.Book.View(f.c.Request.Context(), func(r inventory.Reader) error {
		e, err := r.Entry(seq)
		happened = e.Happened
		return err
	})
	if err != nil {
		return inventory.Receipt{}, err
	}
	key := f.value.Get("key")
	if _, err := p.Book.Correct(f.c.Request.Context(), f.id.Call(key+".1"), seq, reason); err != nil {
		return inventory.Receipt{}, err
	}
	call := f.id.Call(key + ".2")
	call.Happened = happened
	return p.Book.Scan(f.c.Request.Context(), call, s)
}

func (p *Pages) setupClose(f *setupForm) (inventory.Receipt, error) {
	cl := trace.Closing{Treatment: f.t, NotDone: f.value.Get("action") == "not_done", Note: f.said("note")}
	if s := strings.TrimSpace(f.value.Get("minutes")); s != "" && !cl.NotDone {
		n, err := f.number("minutes")
		if err != nil {
			return inventory.Receipt{}, err
		}
		cl.Minutes = int64(n)
	}
	call := f.call()
	var err error
	if call.Happened, err = p.clockTime(f, f.value.Get("at")); err != nil {
		return inventory.Receipt{}, err
	}
	return p.Book.Close(f.c.Request.Context(), call, cl)
}

// clockTime turns "14:05" into the first such instant from the treatment's
// start on; a treatment lasts less than a day. Empty is the zero time, which is
// now.
func (p *Pages) clockTime(f *setupForm, s string) (at time.Time, err error) {
	if s = strings.TrimSpace(s); s == "" {
		return at, nil
	}
	if !strings.Contains(s, ":") && len(s) > 2 {
		s = s[:len(s)-2] + ":" + s[len(s)-2:]
	}
	clock, err := time.Parse("15:04", s)
	if err != nil {
		return at, inventory.Invalid("at", "Give the time as 14:05, or leave it empty for now.", "%q is not a time of day", s)
	}
	err = p.Book.View(f.c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		t, err := trace.TreatmentByID(r, f.t)
		if err != nil {
			return err
		}
		start := t.Start.In(k.zone)
		at = time.Date(start.Year(), start.Month(), start.Day(), clock.Hour(), clock.Minute(), 0, 0, k.zone)
		switch {
		case at.Equal(start.Truncate(time.Minute)):
			at = t.Start
		case at.Before(start):
			at = time.Date(start.Year(), start.Month(), start.Day()+1, clock.Hour(), clock.Minute(), 0, 0, k.zone)
		}
		at = at.UTC()
		return nil
	})
	return at, err
}
