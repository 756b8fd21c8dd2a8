// Package demo makes an invented dialysis unit with some months behind it, and
// the truth about it.
//
// [Make] plays the unit's days: deliveries, carts filled in the evening,
// treatments with their scans, counts at the end of a shift. What people do
// goes through a [lotbook/trace.Book], by the same calls as in real use; what
// really happened, written down or not, goes into a [Truth]. So an answer can
// be held against what happened. That a test may rely on it:
//
//   - The same Options give the same entries and the same head hash. Nothing
//     comes from the machine's clock or from chance but by Options.Seed.
//   - Names of people, makers and products are invented. GTINs are of the
//     ranges that GS1 keeps for documentation (prefixes 950 and 952).
//
// # Use
//
//	o := demo.Defaults(time.Now())
//	clock := demo.NewClock(o)
//	store, err := boltstore.Open(dir, boltstore.Options{
//		Clock: clock.Now, Unit: demo.UnitID(o.Seed), NoSync: true, Bulk: 500,
//	})
//	book := trace.NewBook(inventory.NewBook(store, registry, clock.Now))
//	truth, err := demo.Make(ctx, book, clock, o)
//	err = demo.WriteTruth(file, truth)
//	err = store.Close()
//
// Afterwards the store is opened again with the real clock. Whoever wants the
// staff of the unit to sign in adds the people of [Staff] before Make, with the
// same clock.
//
// # What goes wrong in it
//
// Packs that nobody scans, some with a word about it, most without; scans that
// a finding stopped, answered or not; wrong lot numbers typed and struck out
// later; entries made hours after the fact; packs taken from the next cart, or
// dropped and thrown away, and never written down; counts that are off by a
// few or that overlook a whole lot; patients who do not come; concentrate
// fetched for the wrong patient. With Options.Mixed also: kits of which nobody
// says what they hold, bags without a lot or with a wrong one, tanks of which
// nobody says whether they were empty, a loop that fails in mid-treatment, vials
// that nobody records as opened or thrown away.
//
// With Options.Leak and Options.ShortRuns a systematic loss and short runs are
// planted on top; the truth has them.
//
// # What never goes wrong in it
//
// Answers are worked out from the journal, so they rest on some things being
// true. The demo keeps to them, and so will a real unit have to:
//
//   - A delivery is booked with the day on which it came, in its real quantity.
//   - What is recorded by lot was read from the pack that was used, or was
//     struck out again.
//   - What a treatment used beyond what it required is recorded, or it is
//     recorded that it was not (trace.Unrecorded), with why; and if its scan
//     met a stop, the stop is answered.
//   - No lot is overlooked by two complete counts in a row, wherever it lies, or
//     taken for another, unless Options.Careless is set to see what then becomes
//     of answers; and what was carried without a word is not carried so again
//     before a count found some of it, or hardly ever.
//   - A dose comes from one vial.
//   - With Options.Mixed: each batch, and each beginning and end of a feed, is
//     written down with its own time, however late; and what a treatment drew
//     from a container where its station was fed with what was prescribed all of
//     the time is none.
//
// Rates and times are plausible inventions (common practice, no source), but
// for the shortfall of a treatment's real length, some 3% (trade figure: 8 min
// of 4 h over 637 sessions, PMC4369100).
package demo
