package web

import "lotbook/trace"

// A besideRow is another open treatment on the machine or at the station of the
// one shown: two patients can't be there, so one of the records is not right
// yet.
type besideRow struct {
	// Where is what both have: "on Machine 1 at Station 1".
	Where, Patient, Number, Since, URL string
}

// beside looks for other open treatments where this one is.
func (b *setupBuilder) beside() error {
	if b.t.Closed || b.t.Struck != 0 {
		return nil
	}
	return trace.ScanOpen(b.r, func(t *trace.Treatment) error {
		if t.ID == b.t.ID || (t.Machine != b.t.Machine && t.Station != b.t.Station) {
			return nil
		}
		row := besideRow{Number: string(t.Patient), Since: b.k.near(t.Start, b.t.Start), URL: setupURL(t.ID)}
		row.Where = "at " + b.names.station(t.Station)
		if t.Machine == b.t.Machine {
			row.Where = "on " + b.names.machine(t.Machine)
			if t.Station == b.t.Station {
				row.Where += " at " + b.names.station(t.Station)
			}
		}
		var err error
		row.Patient, err = b.names.patient(t.Patient)
		b.page.Beside = append(b.page.Beside, row)
		return err
	})
}
