// Package reading turns what a scanner, a camera or a person gives about a pack
// into a scan that a treatment's book can take, or into the one question that
// has to be asked first.
//
//	codes := reading.Text(line, opts)
//	r := reading.Of(reading.Given{Codes: codes, How: trace.Scanned})
//	switch r.Outcome {
//	case reading.Ready:
//		receipt, err := book.Scan(ctx, call, r.Scan(treatment))
//	case reading.NeedsLot:
//		… // ask, then Of again with the lot beside the same codes
//	}
//
// Of is pure: the same codes and answers give the same Reading, so a client can
// send everything again with the answer added, and nothing is kept between two
// requests. It never guesses: where a text can be read in several ways, or a
// picture shows several packs, the choices are listed and a person chooses.
//
// What a scan then means (expired, held, another product than prescribed) is
// for package trace to say.
package reading
