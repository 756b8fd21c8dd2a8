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
	ixTank         inventory.Index = "tank"              // tank -> document
	ixLoop         inventory.Index = "loop"              // loop -> document
	ixTankEvent    inventory.Index = "tank.event"        // tank, time, entry -> batch poured in, or none: emptied
	ixFeed         inventory.Index = "feed"              // entry -> document
	ixFeedStation  inventory.Index = "feed.station"      // station, entry -> nothing
	ixFeedTank     inventory.Index = "feed.tank"         // tank, entry -> nothing
	ixBatch        inventory.Index = "batch"             // batch -> document
	ixBatchMade    inventory.Index = "batch.made"        // time, entry -> batch
	ixReading      inventory.Index = "batch.reading"     // batch, time, entry -> document
	ixContainer    inventory.Index = "container"         // container -> document
	ixContainerAt  inventory.Index = "container.place"   // place, time, entry -> container
	ixProblem      inventory.Index = "problem"           // problem -> document
	ixProblemAt    inventory.Index = "problem.at"        // time, problem -> what a list needs of it; while it stands
	ixProblemSet   inventory.Index = "problem.settings"  // "problems" -> document
	ixGap          inventory.Index = "treatment.gap"     // category, start, treatment -> what isn't recorded
	ixKept         inventory.Index = "treatment.kept"    // category, week -> how many treatments are recorded how
)
