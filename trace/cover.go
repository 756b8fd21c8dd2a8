package trace

import (
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A LotUse is a use as a lot's ledger lists it: all that an answer about the
// lot says, without reading the treatment.
type LotUse struct {
	Treatment TreatmentID
	Patient   PatientID
	Machine   MachineID
	Station   StationID
	Category  inventory.Category
	How       How
	Serial    string
	Start     time.Time // of the treatment
	Until     time.Time // when it was replaced, zero if it was not
	Cause     string    // why it replaced another, or what was said to a finding
	// From the ledger's line itself.
	Lot      inventory.Lot
	Location inventory.LocationID
	From     time.Time
	Quantity int64
	By       string
	Entry    uint64
	Struck   uint64
}

// The forms of a Cover: what a use in the ledger was for.
const (
	coverTreatment = 1
	coverBatch     = 2
	coverContainer = 3
)

// covers returns the form of a movement's Cover, 0 if it has none.
func covers(m *inventory.Movement) byte {
	if m.Class != inventory.ClassUsed || len(m.Cover) == 0 {
		return 0
	}
	return m.Cover[0]
}

// containerOf returns the container that a movement opened, "" for any other.
func containerOf(m *inventory.Movement) (ContainerID, error) {
	if covers(m) != coverContainer {
		return "", nil
	}
	d := rowcode.NewDec(coverContainer, m.Cover)
	id := ContainerID(d.Text())
	return id, d.Err()
}

// movement returns the ledger's line of a use.
func (t *Treatment) movement(u *Use) inventory.Movement {
	v := rowcode.NewEnc(coverTreatment, 96)
	v.Text(string(t.ID))
	v.Text(string(t.Patient))
	v.Text(string(t.Machine))
	v.Text(string(t.Station))
	v.Text(string(u.Category))
	v.Text(string(u.How))
	v.Text(u.Serial)
	v.Time(t.Start)
	v.Time(u.Until)
	why := u.Reason
	if why == "" {
		why = u.Cause
	}
	v.Text(why)
	return inventory.Movement{
		Class: inventory.ClassUsed, Lot: inventory.Lot{Product: u.Product, Number: u.Lot},
		From: u.Location, Quantity: u.Quantity, Cover: v.Bytes(),
	}
}

// lotUse takes a ledger's line apart; ok is false for one that is no use in a
// treatment.
func lotUse(m *inventory.Movement) (u LotUse, ok bool, err error) {
	if covers(m) != coverTreatment {
		return u, false, nil
	}
	d := rowcode.NewTextDec(coverTreatment, m.Cover)
	u = LotUse{
		Treatment: TreatmentID(d.Text()),
		Patient:   PatientID(d.Text()),
		Machine:   MachineID(d.Text()),
		Station:   StationID(d.Text()),
		Category:  inventory.Category(d.Text()),
		How:       How(d.Text()),
		Serial:    d.Text(),
		Start:     d.Time(),
		Until:     d.Time(),
		Cause:     d.Text(),
		Lot:       m.Lot, Location: m.From, From: m.Happened, Quantity: m.Quantity, By: m.Actor, Entry: m.Entry, Struck: m.Struck,
	}
	if err := d.Err(); err != nil {
		return u, false, fmt.Errorf("use of entry %d: %w", m.Entry, err)
	}
	return u, true, nil
}
