package demo_test

import (
	"testing"
	"time"

	"lotbook/trace/demo"
)

func TestQuick(t *testing.T) {
	for _, o := range []demo.Options{small(1, 0.05), demo.Defaults(until)} {
		start := time.Now()
		m := makeUnit(t, o)
		uses, left := 0, 0
		for _, tr := range m.truth.Treatments {
			for _, us := range tr.Used {
				for _, u := range us {
					uses++
					if u.Entry == 0 {
						left++
					}
				}
			}
		}
		t.Log(time.Since(start), m.truth.Head, len(m.truth.Treatments), "treatments", uses, left, len(m.truth.CountErrors), len(m.truth.NotWritten), m.truth.Notice)
	}
}
