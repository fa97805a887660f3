package readback

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"
)

// largeTable is a table of exactly 100 000 sectors, which no flexible disk has, in a tenth of which nothing came back.
func largeTable(tb testing.TB) *Table {
	tb.Helper()
	t, err := NewTable(Format{Cylinders: 400, Heads: 2, Sectors: 125, Bytes: 128})
	if err != nil {
		tb.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	for i := range t.states {
		if t.states[i] = Good; random.IntN(10) == 0 {
			t.states[i] = State(random.IntN(int(numStates)))
		}
	}
	return t
}

// Aim: 100 000 rows in 30 ms.
func BenchmarkRead(b *testing.B) {
	want := largeTable(b)
	var file bytes.Buffer
	if err := want.Write(&file); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(file.Len()))
	for b.Loop() {
		if got, err := Read("x.csv", bytes.NewReader(file.Bytes()), want.format); err != nil || !got.Equal(want) {
			b.Fatal(err)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	t := largeTable(b)
	for b.Loop() {
		var file bytes.Buffer
		if err := t.Write(&file); err != nil {
			b.Fatal(err)
		}
	}
}

// Aim: 50 rounds of the largest 90 mm image in 30 ms. A tenth of each round was not read; "all good" has nothing missing,
// and in "disputes" every hundredth sector of the last round differs.
func BenchmarkJoin(b *testing.B) {
	for _, c := range []struct {
		name        string
		lost, wrong int // one sector in so many; 0: none
	}{{"a tenth lost", 10, 0}, {"all good", 0, 0}, {"disputes", 10, 100}} {
		b.Run(c.name, func(b *testing.B) {
			f := plain(MM90, 80, 2, 36, 512)
			truth := make([]byte, f.Size())
			random := rand.New(rand.NewPCG(3, 4))
			for i := range truth {
				truth[i] = byte(random.Uint32())
			}
			rounds := make([]Round, 50)
			for i := range rounds {
				t, _ := NewTable(f)
				for s := range t.states {
					if t.states[s] = Good; c.lost > 0 && random.IntN(c.lost) == 0 {
						t.states[s] = Bad
					}
				}
				rounds[i] = Round{Source: Source{Number: i}, Table: t, Image: bytes.Clone(truth)}
			}
			if c.wrong > 0 {
				for s := 0; s < f.Total(); s += c.wrong {
					rounds[49].Image[s*f.Bytes]++
				}
			}
			b.SetBytes(int64(50 * f.Size()))
			for b.Loop() {
				if _, err := Join(rounds); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func ExampleJoin() {
	f, _ := Parse("40x1x1x128")
	reading := func(number int, state State, content byte) Round {
		t, _ := NewTable(f)
		_ = t.Set(Address{3, 0, 1}, state)
		return Round{Source: Source{Number: number}, Table: t, Image: bytes.Repeat([]byte{content}, f.Size())}
	}
	j, err := Join([]Round{reading(2, Good, 'b'), reading(0, Good, 'a'), reading(1, Bad, 'c')})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range j.Disputed {
		a, _ := f.At(d.LBA)
		fmt.Println(a, d.Copies, j.Table.Total().Bad)
	}
	// Output: cylinder 3, head 0, sector 1 [[0] [2]] 1
}
