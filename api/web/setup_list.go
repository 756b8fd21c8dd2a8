package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// A setupListPage is the treatments of a shift: those that are open, whenever
// they began, and those that are planned.
type setupListPage struct {
	Frame
	Shift, Hours string
	Prev, Next   shiftLink
	Now          string // address of the shift that runs now, empty if it is this one
	Open         []treatmentRow
	Planned      []slotRow
	Plan         int // how many are planned in all
	Done         []treatmentRow
	MayOpen      bool
	Stations     []option
	Patients     []option
	Machines     []option
	Problem      *trouble
	Already      *openedAlready
}

// A shiftLink leads to a shift.
type shiftLink struct{ Title, URL string }

// An option is one of a list to choose from.
type option struct {
	Value, Title string
	Selected     bool
}

// A treatmentRow is a treatment in a list.
type treatmentRow struct {
	URL, Patient, Number, Station, Machine, Started string
	// Missing is what it still lacks, in words; Waiting is how many stopped
	// scans wait for an answer.
	Missing     []string
	Waiting     int
	WaitingText string
	Closed      bool
	NotDone     bool // it did not take place
}

// A slotRow is a planned treatment that was not opened yet.
type slotRow struct {
	Station, StationName, Patient, Number, Machine string
	// Busy says where another treatment is open, empty for nowhere: "here", or
	// "on this machine".
	Busy string
}

// A trouble is why a form was not taken, above the form.
type trouble struct{ Lead, Do string }

func shiftURL(path string, s inventory.Shift) string {
	return path + "?" + url.Values{"date": {string(s.Date)}, "shift": {strconv.Itoa(s.Number)}}.Encode()
}

// shiftOf reads the shift that a page is about; without one it is the shift
// that runs now.
func (p *Pages) shiftOf(c *gin.Context, k calendar) (s, now inventory.Shift, err error) {
	if now, err = k.unit.ShiftOf(p.Book.Now()); err != nil {
		return s, now, err
	}
	s = now
	if d := c.Query("date"); d != "" {
		if s.Date, err = inventory.ParseDate(d); err != nil {
			return s, now, inventory.Invalid("date", "Give the date as 2027-03-31.", "%v", err)
		}
	}
	if n := c.Query("shift"); n != "" {
		if s.Number, err = strconv.Atoi(n); err != nil {
			return s, now, inventory.Invalid("shift", "Choose one of the unit's shifts.", "%q is not the number of a shift", n)
		}
	}
	_, _, err = k.unit.Window(s)
	return s, now, err
}

func (p *Pages) setupList(c *gin.Context) error {
	return p.showSetupList(c, http.StatusOK, &setupListPage{})
}

func (p *Pages) showSetupList(c *gin.Context, status int, page *setupListPage) error {
	page.Frame, page.MayOpen = p.frame(c, "Setup", "/setup"), p.may(c, "POST /setup")
	err := p.Book.View(c.Request.Context(), func(r inventory.Reader) error { return p.fillSetupList(c, r, page) })
	if err != nil {
		return err
	}
	return show(c, status, p.views.setupList, page)
}

// early is how long before its shift a planned treatment may be opened and
// still be the one that was planned. Common practice, no source.
const early = 2 * time.Hour

func (p *Pages) fillSetupList(c *gin.Context, r inventory.Reader, page *setupListPage) error {
	k, err := p.calendar(r)
	if err != nil {
		return err
	}
	shift, now, err := p.shiftOf(c, k)
	if err != nil {
		return err
	}
	from, to, err := k.unit.Window(shift)
	if err != nil {
		return err
	}
	page.Unit = k.unit.Name
	page.Shift = string(shift.Date) + " · " + k.shiftName(shift.Number)
	page.Hours = k.clock(from) + " to " + k.clock(to)
	for step, link := range map[int]*shiftLink{-1: &page.Prev, 1: &page.Next} {
		s := k.beside(shift, step)
		*link = shiftLink{string(s.Date) + " · " + k.shiftName(s.Number), shiftURL("/setup", s)}
	}
	if shift != now {
		page.Now = "/setup"
	}
	names, err := p.namesOf(r)
	if err != nil {
		return err
	}
	seen := map[trace.PatientID]bool{} // treated in this shift, at whatever station
	busy, running := map[trace.StationID]bool{}, map[trace.MachineID]bool{}
	err = trace.ScanOpen(r, func(t *trace.Treatment) error {
		row, err := names.row(k, t, p.Book.Now())
		if err != nil {
			return err
		}
		page.Open = append(page.Open, row)
		seen[t.Patient] = true
		busy[t.Station], running[t.Machine] = true, true
		return nil
	})
	if err != nil {
		return err
	}
	slices.SortStableFunc(page.Open, func(a, b treatmentRow) int { return byNumber(a.Station, b.Station) })
	err = trace.ScanStarts(r, from.Add(-early), to, func(t *trace.Treatment) error {
		if t.Struck != 0 {
			return nil
		}
		if t.Closed {
			row, err := names.row(k, t, from)
			if err != nil {
				return err
			}
			page.Done = append(page.Done, row)
		}
		seen[t.Patient] = true
		return nil
	})
	if err != nil {
		return err
	}
	slots, err := trace.Slots(r, shift)
	if err != nil {
		return err
	}
	for _, s := range slots {
		if page.Plan++; seen[s.Patient] {
			continue
		}
		name, err := names.patient(s.Patient)
		if err != nil {
			return err
		}
		row := slotRow{
			Station: string(s.Station), StationName: names.station(s.Station), Number: string(s.Patient), Patient: name,
			Machine: names.machine(names.machineAt[s.Station]),
		}
		switch {
		case busy[s.Station]:
			row.Busy = "here"
		case running[names.machineAt[s.Station]]:
			row.Busy = "on this machine"
		}
		page.Planned = append(page.Planned, row)
	}
	slices.SortStableFunc(page.Planned, func(a, b slotRow) int { return byNumber(a.StationName, b.StationName) })
	if page.MayOpen {
		page.Stations, page.Patients, page.Machines, err = names.options()
	}
	return err
}

func setupURL(id trace.TreatmentID) string { return "/setup/" + url.PathEscape(string(id)) }
