package piobench

import (
	"fmt"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// Proof is what one part of the self-test found.
type Proof struct {
	Part  string
	Asked string
	Seen  string
	OK    bool
}

// ProveCutOffs shows that each of the heater's two switches goes on and off by its own line and leaves the other alone, by
// the levels that the kernel reads on the wires. Never are both on, so that nothing heats. It asks the kernel and not the
// switch: whether the part behind the wire opens, only its load tells.
func (b *Bench) ProveCutOffs(sleep func(time.Duration)) []Proof {
	var all []Proof
	for _, c := range []struct {
		of, other recipe.Output
		levels    controller.Levels
	}{
		{recipe.OutHeater, recipe.OutHeaterEnable, controller.Levels{Heater: 1}},
		{recipe.OutHeaterEnable, recipe.OutHeater, controller.Levels{HeaterEnable: true}},
	} {
		if b.outputs[c.of] == nil {
			continue
		}
		on := b.prove(c.of, c.other, c.levels, true, sleep)
		all = append(all, on, b.prove(c.of, c.other, controller.Levels{}, false, sleep))
	}
	return all
}

// prove drives levels for a while and reads both wires back.
func (b *Bench) prove(of, other recipe.Output, l controller.Levels, want bool, sleep func(time.Duration)) Proof {
	p := Proof{Part: of.String(), Asked: "off, and the other switch off"}
	if want {
		p.Asked = "on, and the other switch off"
	}
	for range 20 { // a second: staggered starts and slow rhythms have come about
		if err := b.Drive(b.world.Kernel.Now(), l); err != nil {
			p.Seen = err.Error()
			return p
		}
		is, err := b.level(of)
		also, err2 := b.level(other)
		if err != nil || err2 != nil {
			p.Seen = fmt.Sprintf("the wires cannot be read back: %v %v", err, err2)
			return p
		}
		p.Seen = fmt.Sprintf("%s %s, %s %s", of, onOff(is), other, onOff(also))
		if p.OK = is == want && !also; p.OK {
			return p
		}
		sleep(50 * time.Millisecond)
	}
	return p
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

// level reads the wire of an output as the kernel sees it. A channel of a chip is told as it was last written: nothing can
// be read back of its wire.
func (b *Bench) level(o recipe.Output) (bool, error) {
	switch s := b.outputs[o].(type) {
	case interface{ Level() (bool, error) }:
		return s.Level()
	case *pwmSink:
		share, err := s.PWM.Share()
		return share > 0, err
	case *chanSink:
		s.board.mu.Lock()
		defer s.board.mu.Unlock()
		return s.board.written[s.channel] > 0, s.board.trouble
	}
	return false, nil
}
