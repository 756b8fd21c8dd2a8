package trace

import "lotbook/inventory"

// The derived indexes of this package. Texts in keys end with a zero byte.
const (
	ixPatient      inventory.Index = "patient"           // patient -> document
	ixStation      inventory.Index = "station"           // station -> document
	ixMachine      inventory.Index = "machine"           // machine -> document
	ixSlot         inventory.Index = "slot"              // date, shift, station -> patient
	ixTreatment    inventory.Index = "treatment"         // treatment -> document
	ixOpen         inventory.Index = "treatment.open"    // start, treatment -> nothing
	ixStart        inventory.Index = "treatment.start"   // start, treatment -> nothing
	ixPatientStart inventory.Index = "treatment.patient" // patient, start, treatment -> nothing
	ixStopped      inventory.Index = "treatment.stopped" // product, lot, time, entry, treatment -> nothing; while unanswered
	ixGap          inventory.Index = "treatment.gap"     // category, start, treatment -> what isn't recorded
)
