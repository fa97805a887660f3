package piobench

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// pwmModel is a chip with outputs by its registers: enough to see what each channel does.
type pwmModel struct{ regs [256]byte }

func newPWMModel() *pwmModel {
	m := &pwmModel{}
	m.reset()
	return m
}

// reset is what it is after its supply came: asleep, everything off.
func (m *pwmModel) reset() {
	m.regs = [256]byte{0: 0x11, 1: 0x04, 0xFE: 0x1E}
	for c := range 16 {
		m.regs[6+4*c+3] = 0x10
	}
}

func (m *pwmModel) tx(w, r []byte) error {
	at := int(w[0])
	for _, b := range w[1:] {
		if at >= 0xFA && at < 0xFE {
			for c := range 16 {
				m.regs[6+4*c+at-0xFA] = b
			}
		} else {
			m.regs[at] = b
		}
		m.regs[0] &^= 0x80 // written, it restarts; it reads nothing
		at++
	}
	for i := range r {
		r[i] = m.regs[int(w[0])+i]
	}
	return nil
}

func (m *pwmModel) on(channel int) bool {
	b := m.regs[6+4*channel : 10+4*channel]
	return m.regs[0]&0x10 == 0 && b[3]&0x10 == 0 && (b[1]&0x10 != 0 || b[2] != 0 || b[3] != 0)
}

// onChip puts hub and press of the fake bench onto a chip of its bus.
func onChip(f *fake) *pwmModel {
	m := newPWMModel()
	f.bus.chips[0x40] = m.tx
	for i, o := range []recipe.Output{recipe.OutHub, recipe.OutPress} {
		f.spec.Board.Outputs[o] = recipe.OutputWiring{Fitted: true, Line: recipe.Line{Offset: -1}, Drive: recipe.DriveChip, Pull: "down",
			Chip: "pca9685", Bus: "main", Address: 0x40, Channel: 3 + i, Frequency: 1000}
	}
	return m
}

// seen looks at a channel under the bus's lock.
func (f *fake) seen(m *pwmModel, channel int) (on bool) {
	f.bus.with(func() { on = m.on(channel) })
	return on
}

func TestChipOutputs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		m := onChip(f)
		m.regs[0], m.regs[6+4*3+1], m.regs[6+4*3+3] = 0x20, 0x10, 0 // left on by an owner that died
		b := f.open()
		if f.seen(m, 3) {
			t.Error("it is on after the bench was opened")
		}
		full := controller.Levels{Hub: f.spec.Hub.Fastest, Press: true}
		f.pass(b, 2*time.Second, full)
		if !f.seen(m, 3) || !f.seen(m, 4) {
			t.Error("what was asked for is not on")
		}
		f.pass(b, 100*time.Millisecond, controller.Levels{Press: true})
		if f.seen(m, 3) || !f.seen(m, 4) {
			t.Error("one of them should have gone off")
		}
		f.pass(b, 2*time.Second, full)
		f.bus.with(m.reset) // A11: its supply dips
		f.pass(b, 3*time.Second, full)
		if !f.seen(m, 3) || !f.seen(m, 4) {
			t.Error("after a dip of its supply it is not found again")
		}
		if err := b.Close(); err != nil || f.seen(m, 3) || f.seen(m, 4) {
			t.Errorf("closed, %v", err)
		}
	})
}

// TestChipUnplugged: outputs that cannot be reached are a drive that fails, soon, and close says what may be on.
func TestChipUnplugged(t *testing.T) {
	for name, trouble := range map[string]func(*fake){
		"unplugged": func(f *fake) { f.bus.gone[0x40] = true },
		"hanging":   func(f *fake) { f.bus.takes = 10 * time.Second },
	} {
		synctest.Test(t, func(t *testing.T) {
			f := newFake(t)
			m := onChip(f)
			b := f.open()
			f.pass(b, 2*time.Second, controller.Levels{Hub: f.spec.Hub.Fastest})
			f.bus.with(func() { trouble(f) })
			failed := time.Duration(0)
			began := time.Now()
			for failed == 0 && time.Since(began) < 5*time.Second {
				time.Sleep(50 * time.Millisecond)
				if b.Drive(time.Since(f.began), controller.Levels{}) != nil {
					failed = time.Since(began)
				}
			}
			if failed == 0 || failed > time.Second {
				t.Errorf("%s: driving fails after %v", name, failed)
			}
			err := b.Close()
			if err == nil || !strings.Contains(err.Error(), "by hand") {
				t.Errorf("%s: close says %v", name, err)
			}
			time.Sleep(time.Hour) // let what hangs end
			_ = m
		})
	}
}

// TestChipMissing: a chip with outputs that does not answer is refused even by who looks for faults: it may be on.
func TestChipMissing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		onChip(f)
		f.bus.gone[0x40] = true
		if b, err := Open(f.spec, f.world, Options{Tolerant: true}); err == nil || !strings.Contains(err.Error(), "0x40") {
			t.Errorf("%v", err)
			b.Close()
		}
	})
}

// TestOffReachesChips: Off switches them off as well.
func TestOffReachesChips(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		m := onChip(f)
		m.regs[0], m.regs[6+4*3+1], m.regs[6+4*3+3] = 0x20, 0x10, 0
		if err := Off(f.spec, f.world); err != nil || f.seen(m, 3) {
			t.Errorf("%v", err)
		}
	})
}

// TestProofSeesBoth: a cut-off counts only while the other switch is off.
func TestProofSeesBoth(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		b.outputs[recipe.OutHeaterEnable] = stuck{b.outputs[recipe.OutHeaterEnable].(lineSink)}
		for _, p := range b.ProveCutOffs(time.Sleep) {
			if p.OK && p.Part == "heater" {
				t.Errorf("%+v", p)
			}
		}
	})
}

// stuck is a line that reads high whatever it is asked.
type stuck struct{ lineSink }

func (stuck) Level() (bool, error) { return true, nil }
