// Package policy has the formulas by which stock is reviewed and ordered, as
// textbooks of inventory theory give them. It is pure: numbers in, numbers out,
// nothing of a unit's records.
//
// Words: the lead time is from the order to the delivery; the review period is
// from one day of ordering to the next. Stock must last, without a further
// order having any effect, for the lead time where it is reviewed all the time,
// and for the lead time and a review period where orders go out on fixed days.
// The service level is the chance that it does: of a cycle without a stock-out,
// not the share of pieces that were there when asked for, which is higher.
//
// Demand is taken as normal. It is a sum over many treatments, so this holds
// where a delivery serves some dozens of them; of something used once a month
// it says too little, and one piece more than the formula costs little.
package policy
