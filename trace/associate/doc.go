// Package associate measures how surely an exposure and an outcome go together
// in a two-by-two [Table] of counts: Fisher's exact test, the odds ratio by
// conditional maximum likelihood, and its exact interval. It is pure: numbers
// in, numbers out; what they mean is said by [lotbook/trace].
//
// # The basics
//
// Of 29 patients with a reaction 10 had met a lot, of 50 without one 1 had:
//
//	t := associate.Table{A: 10, B: 19, C: 1, D: 49}
//	m := associate.Measure(t, 0.95)
//	m.P             // 0.000115: so rare are tables as unlikely as this one by chance
//	m.OddsRatio     // 24.7: the odds of a reaction are that many times higher
//	m.Low, m.High   // 3.15 to 1141: what that may really be
//
// All three hold both totals of the table as given and ask how the exposed
// could have fallen among cases and others: the hypergeometric distribution, and
// with an odds ratio other than 1 Fisher's noncentral hypergeometric one. No
// large numbers are needed, so they hold for three cases as for three hundred,
// and a cell of zero, which is the usual case in an outbreak, needs no
// correction: the odds ratio is infinite with a lower bound, or zero with an
// upper bound.
//
// Where many exposures are looked at, some seem to matter by chance alone.
// [Holm] corrects for that so that, whatever depends on what, all of those that
// stand out are true together with the probability asked for. [BenjaminiHochberg]
// is a weaker second figure: the share of those called that would be false. It
// suits a list of what to look at next, not a verdict.
//
// # Caveats
//
// The two-sided p is the sum of the tables no likelier than the one seen, as
// most published figures are; the interval joins two one-sided tests of half
// the level each. The two agree but for tables near the edge, where an interval
// may hold 1 although p is a little below 0.05 (Fay, Biostatistics 11, 2010). The
// interval and the one-sided p always agree.
//
// The test takes each row as drawn by itself. Several treatments of one patient
// are not, and it then calls too much: make a second table in which each patient
// counts once.
//
// A paper's "odds ratio" is often the cross product A·D / (B·C), also where its
// interval is the exact one: see [Table.CrossProduct].
package associate
