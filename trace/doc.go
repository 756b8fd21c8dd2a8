// Package trace keeps which lot went into which treatment, and answers both
// ways: from a lot to patients, from a patient to lots.
//
// A [Book] is an inventory.Book that also knows patients, machines, stations
// and treatments. A nurse opens a [Treatment], scans packs into it in any
// order ([Book.Scan]) and is told for each one what it was taken as, what was
// noticed, and what is still missing. A use takes its pieces from the
// station's location in the same transaction.
//
// # Records and reasons
//
// A scan with a finding at level Stop (expired, held, not as prescribed, wrong
// product) is written down as stopped and waits for the nurse's answer: set
// aside, or used all the same with a reason. A scan that comes with a reason is
// recorded as used at once. Nothing is refused because of a finding.
//
// # How sure an answer is
//
// [Book.Exposures] grades each treatment. Confirmed: recorded as used.
// Probable: of this kind nothing was recorded, and the lot was the open one at
// that place and time. Cannot be excluded: nothing was recorded, and the lot
// may have been in the unit. A treatment is left out only when something on
// record says why; see grade.go for the reasoning, which errs toward listing.
//
// # What holds a lot
//
// A lot also meets patients in a kit's lot that holds it and in a [Batch] that
// it went into, which a tank feeds to stations. The answer goes through each of
// these holders; see carrier.go, and supply.go for what fed a station. A
// [Container] is a piece that several treatments draw from. Home patients whose
// stores have some stand beside the treatments.
//
// # From patients to lots
//
// [Book.Compare] sets treatments with a reaction beside others and says which
// lots, batches, containers, machines, stations and shifts of the day they share
// that others don't: see [lotbook/trace/associate] for the figures. What is not
// recorded is counted by itself there, never as not met.
package trace
