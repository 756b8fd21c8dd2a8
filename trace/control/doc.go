// Package control tells noise from a change in figures that come shift after
// shift: control charts, a cumulative sum, and a test for the point of change.
// It is pure: numbers in, numbers out; what they mean is said by
// [lotbook/trace].
//
// Charts follow the NIST/SEMATECH e-Handbook of Statistical Methods, whose
// section stands beside each function. Where counts are so small that the
// handbook's normal limits fail (it says so itself in 6.3.3.1 and 6.3.3.2),
// limits are taken from the binomial or the Poisson distribution instead: the
// counts beyond which, on either side, no more than 0.00135 lies, which is what
// lies beyond three standard deviations of a normal distribution.
//
// # Caveats
//
// A chart's limits come from the points that it shows, so that a change in the
// middle widens them; [FindChange] is made for that case. Points are taken as
// independent of each other: whoever makes the figures must take out what goes
// out and comes back, such as a miscount that the next count puts right.
package control
