package chips

import (
	"bytes"
	"math"
	"testing"
	"time"
)

// steady feels the same for ever.
func steady(values map[string]float64) Sense {
	return func(quantity string, _ time.Duration) float64 { return values[quantity] }
}

func read(t *testing.T, c Chip, n int, now time.Duration) []byte {
	t.Helper()
	b, ok := c.Read(n, now)
	if !ok {
		t.Fatalf("a read of %d bytes after %v is refused", n, now)
	}
	return b
}

func TestChecksum(t *testing.T) {
	if got := crc8([]byte{0xbe, 0xef}); got != 0x92 { // data sheet SHT3x-DIS version 7, table 20
		t.Errorf("the checksum of BE EF is %02x, not 92", got)
	}
}

// Ends of the scale: the formulas of section 4.13 of the same data sheet.
func TestSHT3xScale(t *testing.T) {
	for _, v := range []struct {
		celsius, percent float64
		want             []byte
	}{
		{-45, 0, []byte{0, 0, 0x81, 0, 0, 0x81}},
		{130, 100, []byte{0xff, 0xff, 0xac, 0xff, 0xff, 0xac}},
		{-60, -5, []byte{0, 0, 0x81, 0, 0, 0x81}}, // beyond the scale it stays at its end
	} {
		s := &SHT3x{Sense: steady(map[string]float64{"celsius": v.celsius, "percent": v.percent})}
		s.Power()
		s.Write([]byte{0x24, 0x00}, 0)
		if got := read(t, s, 6, 15*time.Millisecond); !bytes.Equal(got, v.want) {
			t.Errorf("%g °C, %g %%: % x, not % x", v.celsius, v.percent, got, v.want)
		}
	}
}

func TestSHT3xRefusesEarlyReads(t *testing.T) {
	s := &SHT3x{Sense: steady(nil)}
	s.Power()
	if _, ok := s.Read(6, 0); ok {
		t.Error("a read without a command is answered")
	}
	s.Write([]byte{0x24, 0x00}, 0)
	if _, ok := s.Read(6, 14*time.Millisecond); ok {
		t.Error("a read before the measurement is done is answered")
	}
	read(t, s, 6, 15*time.Millisecond)
	if _, ok := s.Read(6, 20*time.Millisecond); ok {
		t.Error("a measurement is given twice")
	}
}

func TestSHT3xPeriodic(t *testing.T) {
	s := &SHT3x{Sense: steady(nil)}
	s.Power()
	s.Write([]byte{0x22, 0x36}, 0) // two a second
	s.Write([]byte{0xe0, 0x00}, 400*time.Millisecond)
	if _, ok := s.Read(6, 400*time.Millisecond); ok {
		t.Error("a pair is there before its time")
	}
	s.Write([]byte{0xe0, 0x00}, 500*time.Millisecond)
	read(t, s, 6, 500*time.Millisecond)
}

func TestSHT3xSerialAndCorruption(t *testing.T) {
	s := &SHT3x{Serial: 0xbeef0000, Sense: steady(nil)}
	s.Power()
	s.Write([]byte{0x37, 0x80}, 0)
	if got := read(t, s, 3, 0); !bytes.Equal(got, []byte{0xbe, 0xef, 0x92}) {
		t.Errorf("the serial number begins with % x", got)
	}
	s.Corrupt(true)
	s.Write([]byte{0x37, 0x80}, 0)
	if got := read(t, s, 3, 0); got[2] == 0x92 {
		t.Error("a corrupted checksum is right")
	}
}

// The table of temperatures of the data sheet SBOS397.
func TestTMP102Table(t *testing.T) {
	for celsius, want := range map[float64]uint16{127.9375: 0x7ff, 50: 0x320, 25: 0x190, 0.25: 0x004, 0: 0, -0.25: 0xffc, -25: 0xe70, -55: 0xc90} {
		c := &TMP102{Sense: steady(map[string]float64{"celsius": celsius})}
		c.Power()
		b := read(t, c, 2, 0)
		if got := uint16(b[0])<<4 | uint16(b[1])>>4; got != want {
			t.Errorf("%g °C reads %03x, not %03x", celsius, got, want)
		}
	}
}

// Steps of the six ranges: table 3 of the data sheet SBAS444D.
func TestADS1115Steps(t *testing.T) {
	for gain, step := range []float64{187.5e-6, 125e-6, 62.5e-6, 31.25e-6, 15.625e-6, 7.8125e-6} {
		for code, want := range map[float64]uint16{1: 1, -1: 0xffff, 40000: 0x7fff, -40000: 0x8000, 1000: 1000} {
			c := &ADS1115{Sense: steady(map[string]float64{"volt0": code * step})}
			c.Power()
			c.Write([]byte{1, 0xc1 | byte(gain)<<1, 0xe3}, 0)
			c.Write([]byte{0}, 0)
			b := read(t, c, 2, 2*time.Millisecond)
			if got := uint16(b[0])<<8 | uint16(b[1]); got != want {
				t.Errorf("%g steps of %g V read %04x, not %04x", code, step, got, want)
			}
		}
	}
}

// The result register keeps the former input until the next conversion is done.
func TestADS1115KeepsTheFormerResult(t *testing.T) {
	c := &ADS1115{Sense: steady(map[string]float64{"volt0": 2, "volt1": 0})}
	c.Power()
	convert := func(config byte, at, readAt time.Duration) int {
		c.Write([]byte{1, config, 0x83}, at) // 128 a second: 7.8 ms
		c.Write([]byte{0}, at)
		b := read(t, c, 2, readAt)
		return int(b[0])<<8 | int(b[1])
	}
	first := convert(0xc3, 0, 8*time.Millisecond)
	early := convert(0xd3, 10*time.Millisecond, 15*time.Millisecond)
	b := read(t, c, 2, 18*time.Millisecond)
	if late := int(b[0])<<8 | int(b[1]); first != 16000 || early != first || late != 0 {
		t.Errorf("2 V reads %d, the next input too early %d and in time %d; not 16000, 16000, 0", first, early, late)
	}
}

func TestNAU7802HasToBeWoken(t *testing.T) {
	c := &NAU7802{Sense: steady(map[string]float64{"counts1": -2, "counts2": 1 << 30})}
	c.Power()
	ready := func(now time.Duration) bool {
		c.Write([]byte{0x00}, now)
		return read(t, c, 1, now)[0]&nauReady != 0
	}
	if ready(time.Hour) {
		t.Fatal("asleep it has a result")
	}
	c.Write([]byte{0x00, 0x02}, 0)
	c.Write([]byte{0x00, 0x16}, time.Millisecond) // both parts awake, conversions going
	if ready(2 * time.Millisecond) {
		t.Fatal("a result is there before the filter has settled")
	}
	if !ready(time.Second) {
		t.Fatal("there is no result after a second")
	}
	c.Write([]byte{0x12}, time.Second)
	if got := read(t, c, 3, time.Second); !bytes.Equal(got, []byte{0xff, 0xff, 0xfe}) {
		t.Errorf("-2 counts read % x", got)
	}
	if ready(time.Second) {
		t.Error("reading the result does not clear the bit")
	}
	c.Write([]byte{0x02, 0x80}, time.Second) // the second bridge, beyond the range
	c.Write([]byte{0x12}, 3*time.Second)
	if got := read(t, c, 3, 3*time.Second); !bytes.Equal(got, []byte{0x7f, 0xff, 0xff}) {
		t.Errorf("too much reads % x", got)
	}
}

// The example of the data sheet of the BMP280, section 3.12, in floating point.
func TestBME280Compensation(t *testing.T) {
	celsius, fine := bmeTemperature(519888)
	if math.Abs(celsius-25.08) > 0.005 {
		t.Errorf("519888 is %.4f °C, not 25.08", celsius)
	}
	if p := bmePressure(415148, fine); math.Abs(p-100653.27) > 0.02 {
		t.Errorf("415148 is %.3f Pa, not 100653.27", p)
	}
}

// What is read has to compensate to what was felt, with constants taken from the registers by another way than they went in.
func TestBME280ReadsBack(t *testing.T) {
	c := &BME280{Sense: steady(map[string]float64{"celsius": 21.5, "pascal": 99000, "percent": 48})}
	c.Power()
	c.Write([]byte{0xf2, 0x01}, 0)
	c.Write([]byte{0xf4, 0x25}, 0) // once each, forced
	c.Write([]byte{0xf3}, time.Millisecond)
	if read(t, c, 1, time.Millisecond)[0]&8 == 0 {
		t.Error("it does not tell that it measures")
	}
	c.Write([]byte{0xf7}, 20*time.Millisecond)
	b := read(t, c, 8, 20*time.Millisecond)
	code := func(i int) float64 { return float64(int(b[i])<<12 | int(b[i+1])<<4 | int(b[i+2])>>4) }
	celsius, fine := bmeTemperature(code(3))
	pascal, percent := bmePressure(code(0), fine), bmeHumidity(float64(int(b[6])<<8|int(b[7])), fine)
	if math.Abs(celsius-21.5) > 0.01 || math.Abs(pascal-99000) > 1 || math.Abs(percent-48) > 0.1 {
		t.Errorf("21.5 °C, 99000 Pa, 48 %% read back as %.3f, %.1f, %.2f", celsius, pascal, percent)
	}
	c.Write([]byte{0xe4}, 0)
	h := read(t, c, 3, 0)
	if h4, h5 := int(h[0])<<4|int(h[1]&15), int(h[2])<<4|int(h[1]>>4); h4 != 315 || h5 != 50 {
		t.Errorf("the shared constants read %d and %d, not 315 and 50", h4, h5)
	}
}

func TestPCA9685(t *testing.T) {
	var seen [][2]int
	c := &PCA9685{Notify: func(channel, level int) { seen = append(seen, [2]int{channel, level}) }}
	c.Power()
	expect := func(what string, want ...[2]int) {
		t.Helper()
		if len(seen) != len(want) {
			t.Fatalf("%s: %v, not %v", what, seen, want)
		}
		for i := range want {
			if seen[i] != want[i] {
				t.Fatalf("%s: %v, not %v", what, seen, want)
			}
		}
		seen = nil
	}
	c.Write([]byte{0x06, 0, 0, 0, 8}, 0)
	expect("asleep and without increment nothing is driven")
	c.Write([]byte{0xfe, 60}, 0)
	c.Write([]byte{0x00, 0x20}, 0)
	c.Write([]byte{0xfe, 3}, 0) // refused: it runs
	if c.Write([]byte{0xfe}, 0); read(t, c, 1, 0)[0] != 60 {
		t.Error("the prescaler can be written while it runs")
	}
	c.Write([]byte{0x06, 0, 0, 0, 8}, 0)
	expect("half", [2]int{0, 2048})
	c.Write([]byte{0x06, 0, 0x10, 0, 0x10}, 0)
	expect("off wins over on", [2]int{0, 0})
	c.Write([]byte{0x42, 0, 0x10, 0, 0}, 0)
	expect("the last channel, fully on", [2]int{15, 4096})
	c.Write([]byte{0xfd, 0x10}, 0)
	expect("all off by one byte", [2]int{15, 0})
}
