// Package watch is what the program tells about itself while it runs: figures
// for Prometheus, traces by the W3C's trace context, the trace's id in log lines,
// and whether it is alive and ready.
//
// It promises to be cheap where the work is done: a figure costs an atomic
// addition, a span nothing unless its trace is being recorded. What needs a
// question to the database or the bus is asked when somebody looks, and at most
// once a second. Nothing it tells holds personal data: labels are names of rooms
// and outcomes, spans hold verbs, kinds of event and positions.
package watch
