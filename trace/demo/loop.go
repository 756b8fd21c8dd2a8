package demo

import (
	"container/heap"
	"time"
)

// A task is something that a person does at a time.
type task struct {
	at time.Time
	n  int // the order in which tasks of one time were planned
	do func() error
}

// tasks is a heap of what is to be done, the earliest first.
type tasks []task

func (q tasks) Len() int { return len(q) }
func (q tasks) Less(i, j int) bool {
	if !q[i].at.Equal(q[j].at) {
		return q[i].at.Before(q[j].at)
	}
	return q[i].n < q[j].n
}
func (q tasks) Swap(i, j int) { q[i], q[j] = q[j], q[i] }

// Push implements heap.Interface.
func (q *tasks) Push(x any) { *q = append(*q, x.(task)) }

// Pop implements heap.Interface.
func (q *tasks) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

// plan has something done at a time, at once if that is past; at the latest at
// the end of history.
func (w *world) plan(at time.Time, do func() error) {
	if at.After(w.lastTask) {
		at = w.lastTask
	}
	if at.Before(w.now) {
		at = w.now
	}
	w.planned++
	heap.Push(&w.queue, task{at, w.planned, do})
}

// run does what is planned, and what that plans, until nothing is left.
func (w *world) run() error {
	for len(w.queue) > 0 {
		if err := w.ctx.Err(); err != nil {
			return err
		}
		t := heap.Pop(&w.queue).(task)
		w.now = t.at
		w.clock.set(t.at)
		if err := t.do(); err != nil {
			return err
		}
	}
	return nil
}

func (w *world) chance(p float64) bool { return w.rng.Float64() < p }

func (w *world) between(from, to int) int { return from + w.rng.IntN(to-from+1) }

func (w *world) minutes(from, to int) time.Duration {
	return time.Duration(w.between(from*60, to*60)) * time.Second
}

func pick[T any](w *world, list ...T) T { return list[w.rng.IntN(len(list))] }
