package inventory

import (
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A Count is a count of a location as the list of counts shows it.
type Count struct {
	Entry    uint64     `json:"entry"`
	Location LocationID `json:"location"`
	At       time.Time  `json:"at"`
	By       string     `json:"by"`
	Shift    *Shift     `json:"shift,omitempty"`
	Complete bool       `json:"complete"`
	Cause    string     `json:"cause,omitempty"`
}

func countKey(e journal.Entry, loc LocationID) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(rowcode.AppendText(nil, string(loc)), e.Happened), e.Seq)
}

func noteCount(w Writer, e journal.Entry, c *Counted) error {
	v := rowcode.NewEnc(1, 48)
	v.Text(e.Actor)
	v.Flag(c.Complete)
	v.Text(c.Cause)
	v.Flag(c.Shift != nil)
	if c.Shift != nil {
		v.Text(string(c.Shift.Date))
		v.Uint(uint64(c.Shift.Number))
	}
	return w.Put(ixCount, countKey(e, c.Location), v.Bytes())
}

func strikeCount(w Writer, e journal.Entry, c *Counted) error {
	return w.Delete(ixCount, countKey(e, c.Location))
}

// ScanCountsBack calls fn for the counts of a location that happened before an
// instant and stand, the latest first.
func ScanCountsBack(r Reader, loc LocationID, before time.Time, fn func(*Count) error) error {
	prefix := rowcode.AppendText(nil, string(loc))
	start := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], before)
	return r.ScanBack(ixCount, prefix, start, countRow(fn))
}

// ScanCounts calls fn for the counts of a location that happened at an instant
// or later and stand, in order.
func ScanCounts(r Reader, loc LocationID, from time.Time, fn func(*Count) error) error {
	prefix := rowcode.AppendText(nil, string(loc))
	start := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], from)
	return r.Scan(ixCount, prefix, start, countRow(fn))
}

func countRow(fn func(*Count) error) func(key, row []byte) error {
	return func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		c := Count{Location: LocationID(k.Text()), At: k.Time(), Entry: k.Number()}
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, row)
		c.By = d.Text()
		c.Complete = d.Flag()
		c.Cause = d.Text()
		if d.Flag() {
			c.Shift = &Shift{Date: Date(d.Text()), Number: int(d.Uint())}
		}
		if err := d.Err(); err != nil {
			return err
		}
		return fn(&c)
	}
}
