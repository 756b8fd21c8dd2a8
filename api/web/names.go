package web

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
)

// names looks up what people, stations and machines are called, on one snapshot.
type names struct {
	r         inventory.Reader
	book      *trace.Book
	patients  map[trace.PatientID]string
	stations  []trace.Station
	machines  []trace.Machine
	machineAt map[trace.StationID]trace.MachineID
	// people are the names of users by id, where a page needs them.
	people account.Names
}

// who returns what a user is called, or the id of one that is not here.
func (n *names) who(id string) string { return n.people.Of(id) }

func (p *Pages) namesOf(r inventory.Reader) (*names, error) {
	n := &names{r: r, book: p.Book, patients: map[trace.PatientID]string{}, machineAt: map[trace.StationID]trace.MachineID{}}
	var err error
	if n.stations, err = trace.Stations(r); err != nil {
		return nil, err
	}
	slices.SortStableFunc(n.stations, func(a, b trace.Station) int { return byNumber(a.Name, b.Name) })
	for _, s := range n.stations {
		n.machineAt[s.ID] = s.Machine
	}
	n.machines, err = trace.Machines(r)
	slices.SortStableFunc(n.machines, func(a, b trace.Machine) int { return byNumber(a.Name, b.Name) })
	return n, err
}

// byNumber compares names as people count: "Station 9" comes before "Station
// 10".
func byNumber(a, b string) int {
	for a != "" && b != "" {
		x, y := digits(a), digits(b)
		if x > 0 && y > 0 {
			m, n := strings.TrimLeft(a[:x], "0"), strings.TrimLeft(b[:y], "0")
			if c := cmp.Or(cmp.Compare(len(m), len(n)), strings.Compare(m, n)); c != 0 {
				return c
			}
			a, b = a[x:], b[y:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits returns how many digits a text begins with.
func digits(s string) int {
	return len(s) - len(strings.TrimLeft(s, "0123456789"))
}

// patient returns a patient's name; it reads only those asked for.
func (n *names) patient(id trace.PatientID) (string, error) {
	if name, ok := n.patients[id]; ok {
		return name, nil
	}
	p, err := trace.PatientByID(n.r, id)
	if err != nil {
		return "", err
	}
	n.patients[id] = p.Name
	return p.Name, nil
}

func (n *names) station(id trace.StationID) string {
	for _, s := range n.stations {
		if s.ID == id {
			return s.Name
		}
	}
	return string(id)
}

func (n *names) machine(id trace.MachineID) string {
	for _, m := range n.machines {
		if m.ID == id {
			return m.Name
		}
	}
	return string(id)
}

// row puts a treatment into a list; beside is the day that it is shown on.
func (n *names) row(k calendar, t *trace.Treatment, beside time.Time) (treatmentRow, error) {
	name, err := n.patient(t.Patient)
	row := treatmentRow{
		URL: setupURL(t.ID), Patient: name, Number: string(t.Patient), Station: n.station(t.Station),
		Machine: n.machine(t.Machine), Started: k.near(t.Start, beside), Waiting: len(t.Stopped), Closed: t.Closed, NotDone: t.NotDone,
	}
	missing, _, merr := n.book.Lacks(n.r, t, n.book.Now())
	if merr != nil {
		return row, merr
	}
	for _, m := range missing {
		if t.NotDone {
			break
		}
		row.Missing = append(row.Missing, missingWords(m))
	}
	if row.Waiting > 0 {
		row.WaitingText = plural(row.Waiting, "stopped scan waits", "stopped scans wait")
	}
	return row, err
}

func missingWords(m trace.Missing) string {
	s := m.Category.Title()
	if m.Pieces > 1 {
		s = itoa(m.Pieces) + " × " + s
	}
	return s
}

// options lists what a treatment can be opened with.
func (n *names) options() (stations, patients, machines []option, err error) {
	list, err := trace.Patients(n.r)
	if err != nil {
		return nil, nil, nil, err
	}
	for _, s := range n.stations {
		stations = append(stations, option{Value: string(s.ID), Title: s.Name})
	}
	for _, q := range list {
		patients = append(patients, option{Value: string(q.ID), Title: q.Name + " · " + string(q.ID)})
	}
	slices.SortFunc(patients, func(a, b option) int { return strings.Compare(a.Title, b.Title) })
	for _, m := range n.machines {
		machines = append(machines, option{Value: string(m.ID), Title: m.Name})
	}
	return stations, patients, machines, nil
}

// inWords returns what puts times and ids in words.
func (p *Pages) inWords(r inventory.Reader) (calendar, *names, error) {
	k, err := p.calendar(r)
	if err != nil {
		return k, nil, err
	}
	n, err := p.namesOf(r)
	return k, n, err
}
