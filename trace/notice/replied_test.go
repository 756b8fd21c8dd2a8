package notice

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"lotbook/trace"
)

// An answer of 2,500 uses of several lots is kept whole, in an entry far below
// what the store takes.
func TestPackLargeAnswer(t *testing.T) {
	a := &Answer{Notice: "N000001", Reference: "FSN-1", At: time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)}
	for i := range 2500 {
		a.Treatments = append(a.Treatments, Exposed{
			Grade: trace.Confirmed, Patient: trace.PatientID(fmt.Sprintf("P%04d", i%90)), Name: fmt.Sprintf("Invented %d", i%90), Treatment: trace.TreatmentID(fmt.Sprintf("T%06d", i)),
			Start: a.At.Add(time.Duration(i) * 4 * time.Hour), Machine: "M1", Station: "S1",
			Lots: []LotGrade{{Product: "DLZ", Lot: fmt.Sprintf("L%03d", i%56), Grade: trace.Confirmed, Quantity: 1, How: trace.Scanned, By: "nurse", Entry: uint64(i * 7), Why: "recorded as used"}},
		})
	}
	doc, err := pack(a)
	if err != nil {
		t.Fatal(err)
	}
	if len(doc) > mostPacked/100 {
		t.Errorf("%d bytes", len(doc))
	}
	back, err := unpack(doc)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(a, back) || a.Sum() != back.Sum() {
		t.Error("what comes back is another answer")
	}
	if _, err := unpack(doc[:len(doc)/2]); err == nil {
		t.Error("half an answer was taken for whole")
	}
}
