// Package importer brings a club's own lists of boats, people, requests and
// sales into the book, from CSV or XLSX files.
//
// It is a client of the rooms like the pages: it reads the file, turns each row
// into one order, and gives it as the operator at the machine. The rooms check
// it like any other order.
//
// It promises that a bad row is named by file, line, column and reason; that the
// same file twice changes nothing, because the request key and all ids come from
// the row's reference, or from the row itself; and that with AllOrNothing
// nothing is sent unless every row passed a rehearsal in its room. It does not
// promise that what passes a rehearsal can never be refused: somebody else may
// write in between.
//
// A row is not changed by importing it again with other content under the same
// reference: that is refused. Change what stands in the book by its own orders.
package importer
