package web

import (
	"crypto/rand"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory"
	"lotbook/reports"
)

// A Frame is what every page has around its own content.
type Frame struct {
	Title string
	// Section is the path of the nav item that the page belongs to.
	Section string
	// Who is signed in; empty on public pages.
	Who, Role string
	Nav       []navItem
	Overdue   *overdue
	Unit      string
	Demo      bool
	Version   string
	CSS, JS   string
	Mark      string
	// Caution is shown at the foot where a page has one.
	Caution string
}

type navItem struct {
	Title, URL string
	Here       bool
}

// Key returns a fresh key for one form. A form that is sent twice has the same
// key twice, and is recorded once.
func (*Frame) Key() string { return rand.Text() }

// frame starts a page for whoever is signed in.
func (p *Pages) frame(c *gin.Context, title, section string) Frame {
	f := Frame{
		Title: title, Section: section, Version: p.Version, Demo: p.Demo,
		CSS: p.assets.url("app.css"), JS: p.assets.url("app.js"), Mark: p.assets.url("mark.svg"),
	}
	id, ok := auth.FromContext(c.Request.Context())
	if !ok {
		return f
	}
	f.Who, f.Role = id.Name, string(id.Role)
	f.Overdue = p.overdue(c)
	for _, n := range []navItem{{Title: "Setup", URL: "/setup"}, {Title: "Lots", URL: "/lots"}, {Title: "Notices", URL: "/notices"}, {Title: "Problems", URL: "/problems"}, {Title: "Reconciliation", URL: "/reconciliation"}} {
		if p.Auth.May(id.Role, "GET "+n.URL) {
			n.Here = n.URL == section
			f.Nav = append(f.Nav, n)
		}
	}
	return f
}

// caution adds the tool's caution to a page.
func (f *Frame) caution() { f.Caution = reports.Caution }

// may reports whether whoever is signed in may use a route.
func (p *Pages) may(c *gin.Context, route string) bool {
	id, ok := auth.FromContext(c.Request.Context())
	return ok && p.Auth.May(id.Role, route)
}

// identity returns who is signed in: Guard lets nobody else through.
func identity(c *gin.Context) (auth.Identity, error) {
	id, ok := auth.FromContext(c.Request.Context())
	if !ok {
		return id, auth.ErrNotSignedIn
	}
	return id, nil
}

// A calendar writes instants in the unit's time zone.
type calendar struct {
	unit *inventory.Unit
	zone *time.Location
}

func (p *Pages) calendar(r inventory.Reader) (calendar, error) {
	u, err := p.Book.Unit(r)
	if err != nil {
		return calendar{}, err
	}
	zone, err := u.Zone()
	return calendar{u, zone}, err
}

// day returns "2026-11-25 13:05", empty for the zero time.
func (k calendar) day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.zone).Format("2006-01-02 15:04")
}

// clock returns "13:05", empty for the zero time.
func (k calendar) clock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.zone).Format("15:04")
}

// near returns the clock time of an instant on the day of another, and day and
// time otherwise.
func (k calendar) near(t, other time.Time) string {
	if inventory.DateOf(t, k.zone) == inventory.DateOf(other, k.zone) {
		return k.clock(t)
	}
	return k.day(t)
}

// shiftName returns "Morning", or "Shift 1" of a shift without a name.
func (k calendar) shiftName(n int) string {
	for _, h := range k.unit.Shifts {
		if h.Number == n && h.Name != "" {
			return h.Name
		}
	}
	return "Shift " + itoa(n)
}

// beside returns the shift before (step −1) or after (+1) one.
func (k calendar) beside(s inventory.Shift, step int) inventory.Shift {
	hours := k.unit.Shifts
	for i, h := range hours {
		if h.Number != s.Number {
			continue
		}
		switch i += step; {
		case i < 0:
			return inventory.Shift{Date: s.Date.AddDays(-1), Number: hours[len(hours)-1].Number}
		case i >= len(hours):
			return inventory.Shift{Date: s.Date.AddDays(1), Number: hours[0].Number}
		default:
			return inventory.Shift{Date: s.Date, Number: hours[i].Number}
		}
	}
	return inventory.Shift{Date: s.Date, Number: hours[0].Number}
}
