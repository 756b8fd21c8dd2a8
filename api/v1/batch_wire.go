package v1

import (
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// batch is something made in the unit from several lots.
type batch struct {
	Batch      string    `json:"batch"`
	Product    string    `json:"product"`
	Tank       string    `json:"tank,omitempty"`
	PouredInto string    `json:"poured_into,omitempty"`
	Volume     int64     `json:"volume_ml,omitempty"`
	MixedBy    string    `json:"mixed_by"`
	CheckedBy  string    `json:"checked_by,omitempty"`
	Note       string    `json:"note,omitempty"`
	Made       time.Time `json:"made"`
	UseBy      time.Time `json:"use_by,omitzero"`
	Ended      time.Time `json:"ended,omitzero"`
	Entry      uint64    `json:"entry"`
	By         string    `json:"by"`
	StruckOut  uint64    `json:"struck_out,omitempty"`
}

func batchOf(b *trace.Batch) batch {
	return batch{
		string(b.ID), string(b.Product), string(b.Tank), string(b.Poured), b.Volume, b.MixedBy, b.CheckedBy, b.Note, b.Made, b.UseBy,
		b.Ended, b.Entry, b.By, b.Struck,
	}
}

// batchReading is a check reading: what was not read is left out.
type batchReading struct {
	Conductivity int64  `json:"conductivity_us_per_cm,omitempty"`
	PH           int64  `json:"ph_hundredths,omitempty"`
	Temperature  *int64 `json:"temperature_tenths_c,omitempty"`
	Note         string `json:"note,omitempty"`
}

func (r *batchReading) domain(id string) trace.BatchReading {
	return trace.BatchReading{Batch: trace.BatchID(id), Conductivity: r.Conductivity, PH: r.PH, Temperature: r.Temperature, Note: r.Note}
}

func readingWire(v *trace.BatchReading) batchReading {
	return batchReading{v.Conductivity, v.PH, v.Temperature, v.Note}
}

// takenReading is a check reading with when it was taken and by whom.
type takenReading struct {
	batchReading
	Entry uint64    `json:"entry"`
	At    time.Time `json:"at"`
	By    string    `json:"by"`
}

// batchFeed is the time in which a batch fed stations.
type batchFeed struct {
	Feed     uint64            `json:"feed"`
	Tank     string            `json:"tank"`
	Loop     string            `json:"loop,omitempty"`
	Stations []trace.StationID `json:"stations"`
	From     time.Time         `json:"from"`
	Until    time.Time         `json:"until,omitzero"`
	// Surely: nobody left open whether the batch was in the tank.
	Surely bool `json:"surely"`
}

// batchState is a batch with all that is on record about it.
type batchState struct {
	batch
	Inputs   []content      `json:"inputs"`
	Readings []takenReading `json:"readings"`
	Fed      []batchFeed    `json:"fed"`
	Findings []finding      `json:"findings"`
}

// supply is what a treatment's station is fed with, of one category.
type supply struct {
	Category category        `json:"category"`
	Tank     string          `json:"tank"`
	TankName string          `json:"tank_name,omitempty"`
	Loop     string          `json:"loop,omitempty"`
	Batches  []suppliedBatch `json:"batches"`
	Findings []finding       `json:"findings"`
}

type suppliedBatch struct {
	Batch       string    `json:"batch"`
	Product     string    `json:"product"`
	ProductName string    `json:"product_name,omitempty"`
	UseBy       time.Time `json:"use_by,omitzero"`
	From        time.Time `json:"from,omitzero"`
	Until       time.Time `json:"until,omitzero"`
	Grade       string    `json:"grade,omitempty"`
	Why         string    `json:"why,omitempty"`
	Inputs      []content `json:"inputs"`
}

// suppliesOf returns supplies with what went into each batch.
func suppliesOf(r inventory.Reader, list []trace.Supply) (out []supply, err error) {
	for _, s := range list {
		w := supply{categoryOf(s.Category), string(s.Tank), s.TankName, string(s.Loop), []suppliedBatch{}, findingsOf(s.Findings)}
		for _, b := range s.Batches {
			in, err := contentsOf(r, inventory.Lot{Product: b.Product, Number: string(b.Batch)})
			if err != nil {
				return nil, err
			}
			w.Batches = append(w.Batches, suppliedBatch{
				string(b.Batch), string(b.Product), b.Name, b.UseBy, b.From, b.Until, string(b.Grade), b.Why, append([]content{}, in...),
			})
		}
		out = append(out, w)
	}
	return out, nil
}
