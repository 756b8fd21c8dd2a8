package picture

// ends128 are the code words of a Code 128 as they were read from its ends: from
// the start as far as the bars could be read, and from the stop back. Where glare
// or a scratch crosses all bars, no line reads it whole, but one may reach the
// damage from the left, and another, or the same in another picture, from the
// right.
type ends128 struct {
	forward, back wordVotes
}

// wordVotes counts, for each place from an end, which code word was read how
// often.
type wordVotes struct {
	votes  []map[byte]int
	at     Point   // where the end lies, the mean over the lines
	module float64 // pixels a module there
	lines  map[int]bool
}

func (e *ends128) start(words []byte, at Point, module float64, line int) {
	e.forward.add(words, at, module, line)
}

func (e *ends128) stop(words []byte, at Point, module float64, line int) {
	e.back.add(words, at, module, line)
}

func (v *wordVotes) add(words []byte, at Point, module float64, line int) {
	if v.lines == nil {
		v.lines = map[int]bool{}
	}
	if v.lines[line] {
		return
	}
	n := float64(len(v.lines))
	v.lines[line] = true
	v.at = lerp(v.at, at, 1/(n+1))
	v.module += (module - v.module) / (n + 1)
	for i, w := range words {
		if i == len(v.votes) {
			v.votes = append(v.votes, map[byte]int{})
		}
		v.votes[i][w]++
	}
}

// words are those that two lines at least agree on and three times as many as on
// any other, as far as there are such.
func (v *wordVotes) words() []byte {
	var out []byte
	for _, at := range v.votes {
		var best byte
		most, second := 0, 0
		for w, n := range at {
			if n > most {
				best, most, second = w, n, most
			} else {
				second = max(second, n)
			}
		}
		if most < 2 || most <= 3*second {
			break
		}
		out = append(out, best)
	}
	return out
}

// length128 is how many code words, with start and check character, there are
// between two ends of one picture, by their distance; 0 if that is not sure.
func length128(start, stop *wordVotes) int {
	if len(start.lines) == 0 || len(stop.lines) == 0 || start.module > 1.25*stop.module || stop.module > 1.25*start.module {
		return 0
	}
	n := dist(start.at, stop.at) / ((start.module + stop.module) / 2) / 11
	k := int(n + 0.5)
	if n-float64(k) > 0.25 || float64(k)-n > 0.25 {
		return 0
	}
	return k
}

// join128 puts the words from both ends together, if they can only fit in one
// way; length is how many there are, or 0 if that isn't known. The check
// character has to be right, and unless the length is known three words have to
// have been read from both ends.
func join128(forward, back []byte, length int) (id, text string, ok bool) {
	lo, hi := max(len(forward), len(back)), len(forward)+len(back)-3
	if length > 0 {
		lo, hi = max(lo, length), min(len(forward)+len(back), length)
	}
	for n := lo; n <= hi; n++ {
		words := make([]byte, n, n+1)
		copy(words, forward)
		fits := true
		for i, w := range back {
			at := n - 1 - i
			fits = fits && (at >= len(forward) || words[at] == w)
			words[at] = w
		}
		if !fits {
			continue
		}
		i, t, err := code128Text(append(words, c128Stop))
		if err != nil || t == "" {
			continue
		}
		if ok && t != text {
			return "", "", false
		}
		id, text, ok = i, t, true
	}
	return id, text, ok
}
