package bme280

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/sensors"
)

// calibrated is a chip whose temperature and pressure words are those of the worked example in the data sheet of the
// BMP280 (section 3.12), which has the same formulas. Its humidity words are those of a part that somebody published.
var calibrated = Calibration{
	T1: 27504, T2: 26435, T3: -1000,
	P1: 36477, P2: -10685, P3: 3024, P4: 2855, P5: 140, P6: -7, P7: 15500, P8: -14600, P9: 6000,
	H1: 75, H2: 362, H3: 0, H4: 315, H5: 50, H6: 30,
}

// example is 0x7EED0 and 0x655AC: 519888 and 415148, of the same worked example, and a humidity of 32768.
var example = []byte{0x65, 0x5A, 0xC0, 0x7E, 0xED, 0x00, 0x80, 0x00}

// The example gives t_fine 128422, 25.08 °C and 100653.27 Pa; the published part gave 71319/1024 % with the formulas in
// whole numbers.
func TestPublishedVectors(t *testing.T) {
	celsius, fine := calibrated.temperature(519888)
	if int(fine) != 128422 || math.Abs(celsius-25.08) > 0.005 {
		t.Errorf("%v °C, fine %v", celsius, fine)
	}
	if p := calibrated.pressure(415148, fine); math.Abs(p-100653.27) > 0.005 {
		t.Errorf("%v Pa", p)
	}
	if h := calibrated.humidity(32768, fine); math.Abs(h-71319.0/1024) > 0.01 {
		t.Errorf("%v %%", h)
	}
	r, err := Decode(example, calibrated)
	if err != nil || math.Abs(r.Temperature-298.2325) > 1e-3 || math.Abs(r.Pressure-100653.27) > 0.005 ||
		math.Abs(r.Humidity-0.69647) > 1e-4 || r.Saturated ||
		r.RawTemperature != 519888 || r.RawPressure != 415148 || r.RawHumidity != 32768 {
		t.Errorf("%+v, %v", r, err)
	}
}

// whole is the compensation in whole numbers of the data sheet (section 4.2.3): other formulas for the same values, and
// so a second opinion. Temperature in 0.01 °C, humidity in 1/1024 % and without the cut, pressure in 1/256 Pa.
func whole(c Calibration, t, p, h int64) (celsius, pascal, percent float64) {
	a := ((t>>3 - int64(c.T1)<<1) * int64(c.T2)) >> 11
	b := (((t>>4 - int64(c.T1)) * (t>>4 - int64(c.T1))) >> 12 * int64(c.T3)) >> 14
	fine := a + b

	x := fine - 128000
	y := x*x*int64(c.P6) + (x*int64(c.P5))<<17 + int64(c.P4)<<35
	x = (x*x*int64(c.P3))>>8 + (x*int64(c.P2))<<12
	x = ((int64(1)<<47 + x) * int64(c.P1)) >> 33
	if x != 0 {
		q := ((1048576-p)<<31 - y) * 3125 / x
		q = (q + (int64(c.P9)*(q>>13)*(q>>13))>>25 + (int64(c.P8)*q)>>19) >> 8
		pascal = float64(q+int64(c.P7)<<4) / 256
	}

	v := fine - 76800
	v = ((h<<14 - int64(c.H4)<<20 - int64(c.H5)*v + 16384) >> 15) *
		((((((v*int64(c.H6))>>10)*((v*int64(c.H3))>>11+32768))>>10+2097152)*int64(c.H2) + 8192) >> 14)
	v -= (((v >> 15) * (v >> 15)) >> 7 * int64(c.H1)) >> 4
	return float64((fine*5+128)>>8) / 100, pascal, float64(v) / 4096 / 1024
}

// Both ways agree over what the bench can meet, with words around those of real parts.
func TestAgreesWithWholeNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := calibrated
		c.T1 = rapid.Uint16Range(26000, 29000).Draw(t, "T1")
		c.P1 = rapid.Uint16Range(35000, 39000).Draw(t, "P1")
		c.H4 = rapid.Int16Range(250, 400).Draw(t, "H4")
		c.H5 = rapid.Int16Range(-60, 60).Draw(t, "H5")
		c.H6 = rapid.Int8Range(-40, 40).Draw(t, "H6")
		raw, press := rapid.Int64Range(430000, 620000).Draw(t, "t"), rapid.Int64Range(300000, 500000).Draw(t, "p")
		moist := rapid.Int64Range(15000, 50000).Draw(t, "h")
		wantT, wantP, wantH := whole(c, raw, press, moist)
		celsius, fine := c.temperature(uint32(raw))
		if math.Abs(celsius-wantT) > 0.011 {
			t.Fatalf("%v °C, in whole numbers %v", celsius, wantT)
		}
		if p := c.pressure(uint32(press), fine); math.Abs(p-wantP) > 3 {
			t.Fatalf("%v Pa, in whole numbers %v", p, wantP)
		}
		if h := c.humidity(uint16(moist), fine); math.Abs(h-wantH) > 0.05 {
			t.Fatalf("%v %%, in whole numbers %v", h, wantH)
		}
	})
}

// The words lie where table 16 has them, H4 and H5 with their sign.
func TestDecodeCalibration(t *testing.T) {
	low, high := make([]byte, lowSize), make([]byte, highSize)
	for i := range low {
		low[i] = byte(i + 1)
	}
	copy(high, []byte{0x6A, 0x01, 0x11, 0xEC, 0x5B, 0xFC, 0x9C})
	got, err := DecodeCalibration(low, high)
	want := Calibration{T1: 0x0201, T2: 0x0403, T3: 0x0605, P1: 0x0807, P2: 0x0A09, P3: 0x0C0B, P4: 0x0E0D, P5: 0x100F,
		P6: 0x1211, P7: 0x1413, P8: 0x1615, P9: 0x1817, H1: 26,
		H2: 362, H3: 0x11, H4: -309, H5: -59, H6: -100} // EC B is ECB, −309; FC 5 is FC5, −59
	if err != nil || got != want {
		t.Errorf("%+v, %v", got, err)
	}
}

// H4 and H5 at the ends of their twelve bits.
func TestPackedWordsKeepTheirSign(t *testing.T) {
	for _, c := range []struct {
		packed [3]byte
		h4, h5 int16
	}{
		{[3]byte{0x13, 0x2B, 0x03}, 315, 50},
		{[3]byte{0x7F, 0xFF, 0x7F}, 2047, 2047},
		{[3]byte{0x80, 0x00, 0x80}, -2048, -2048},
		{[3]byte{0xFF, 0xFF, 0xFF}, -1, -1},
		{[3]byte{0x00, 0xF1, 0xFF}, 1, -1},
		{[3]byte{0xFF, 0x1F, 0x00}, -1, 1},
	} {
		low, high := calibrationBytes(calibrated)
		copy(high[3:], c.packed[:])
		got, err := DecodeCalibration(low, high)
		if err != nil || got.H4 != c.h4 || got.H5 != c.h5 {
			t.Errorf("% X: H4 %d, H5 %d, %v", c.packed, got.H4, got.H5, err)
		}
	}
}

func TestCalibrationRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Calibration{
			T1: rapid.Uint16Range(1, 0xFFFE).Draw(t, "T1"), T2: rapid.Int16Range(1, 32767).Draw(t, "T2"), T3: rapid.Int16().Draw(t, "T3"),
			P1: rapid.Uint16Range(1, 0xFFFE).Draw(t, "P1"), P2: rapid.Int16().Draw(t, "P2"), P3: rapid.Int16().Draw(t, "P3"),
			P4: rapid.Int16().Draw(t, "P4"), P5: rapid.Int16().Draw(t, "P5"), P6: rapid.Int16().Draw(t, "P6"),
			P7: rapid.Int16().Draw(t, "P7"), P8: rapid.Int16().Draw(t, "P8"), P9: rapid.Int16().Draw(t, "P9"),
			H1: rapid.Uint8().Draw(t, "H1"), H2: rapid.Int16Range(1, 32767).Draw(t, "H2"), H3: rapid.Uint8().Draw(t, "H3"),
			H4: rapid.Int16Range(-2048, 2047).Draw(t, "H4"), H5: rapid.Int16Range(-2048, 2047).Draw(t, "H5"), H6: rapid.Int8().Draw(t, "H6"),
		}
		if got, err := DecodeCalibration(calibrationBytes(c)); err != nil || got != c {
			t.Fatalf("%+v, %v; want %+v", got, err, c)
		}
	})
}

func TestBlankCalibrationIsRefused(t *testing.T) {
	for _, fill := range []byte{0x00, 0xFF} {
		low, high := make([]byte, lowSize), make([]byte, highSize)
		for i := range low {
			low[i] = fill
		}
		for i := range high {
			high[i] = fill
		}
		if c, err := DecodeCalibration(low, high); !errors.Is(err, sensors.ErrForeign) || c != (Calibration{}) {
			t.Errorf("%02X: %+v, %v", fill, c, err)
		}
	}
	low, high := calibrationBytes(calibrated)
	if c, err := DecodeCalibration(low[:25], high); !errors.Is(err, sensors.ErrChecksum) || c != (Calibration{}) {
		t.Errorf("%+v, %v", c, err)
	}
	if c, err := DecodeCalibration(low, nil); !errors.Is(err, sensors.ErrChecksum) || c != (Calibration{}) {
		t.Errorf("%+v, %v", c, err)
	}
}

// withHumidity is the example with another humidity code; withTemperature and withPressure likewise.
func withHumidity(code uint16) []byte {
	return append(append([]byte{}, example[:6]...), byte(code>>8), byte(code))
}

func withTemperature(code uint32) []byte {
	return []byte{example[0], example[1], example[2], byte(code >> 12), byte(code >> 4), byte(code << 4), 0x80, 0}
}

func withPressure(code uint32) []byte {
	return []byte{byte(code >> 12), byte(code >> 4), byte(code << 4), example[3], example[4], example[5], 0x80, 0}
}

// Case C03: the data sheet's formula cuts at 0 and 100 %; here what air cannot have is refused with its raw code, and what
// is just beyond the ends is flagged.
func TestC03HumidityIsNotClamped(t *testing.T) {
	_, fine := calibrated.temperature(519888)
	code := func(percent float64) uint16 { // the last code that is not above it
		c := uint16(0)
		for calibrated.humidity(c+1, fine) <= percent {
			c++
		}
		return c
	}
	for _, percent := range []float64{104, 121, -3, -20, 102.1, -2.1} {
		c := code(percent)
		r, err := Decode(withHumidity(c), calibrated)
		if !errors.Is(err, sensors.ErrRange) || r != (Reading{}) || !strings.Contains(err.Error(), "raw") {
			t.Errorf("%v %%: %+v, %v", percent, r, err)
		}
	}
	for percent, saturated := range map[float64]bool{-1.9: true, -0.1: true, 0.1: false, 50: false, 99.9: false, 100.1: true, 101.9: true} {
		r, err := Decode(withHumidity(code(percent)), calibrated)
		if err != nil || r.Saturated != saturated || math.Abs(r.Humidity*100-percent) > 0.01 {
			t.Errorf("%v %%: %+v, %v", percent, r, err)
		}
	}
}

// Case C03: so is a temperature, and a pressure.
func TestC03ImpossibleAirIsRefused(t *testing.T) {
	for name, data := range map[string][]byte{
		"coldest code": withTemperature(0), "hottest code": withTemperature(0xFFFFF),
		"highest pressure": withPressure(0), "lowest pressure": withPressure(0xFFFFF),
		"nobody pulls down": {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF},
		"held down":         {0, 0, 0, 0, 0, 0, 0, 0},
	} {
		if r, err := Decode(data, calibrated); !errors.Is(err, sensors.ErrRange) || r != (Reading{}) {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}

func TestStartValuesAreNoReading(t *testing.T) {
	start := []byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0}
	if r, err := Decode(start, calibrated); !errors.Is(err, sensors.ErrNotReady) || r != (Reading{}) {
		t.Errorf("%+v, %v", r, err)
	}
	// One of them alone is an honest code: 26.4 °C here.
	if r, err := Decode(withTemperature(0x80000), calibrated); err != nil || math.Abs(r.Temperature-273.15-26.4) > 0.1 {
		t.Errorf("%+v, %v", r, err)
	}
	for _, data := range [][]byte{nil, start[:7], append(start, 0)} {
		if r, err := Decode(data, calibrated); !errors.Is(err, sensors.ErrChecksum) || r != (Reading{}) {
			t.Errorf("% X: %+v, %v", data, r, err)
		}
	}
}

// The formula of the pressure divides by a factor of P1; a chip that has none gives no pressure and no infinity.
func TestNoDivisionByZero(t *testing.T) {
	c := calibrated
	c.P1 = 0
	if p := c.pressure(415148, 128422); p != 0 {
		t.Error(p)
	}
	if r, err := Decode(example, c); !errors.Is(err, sensors.ErrRange) || r != (Reading{}) {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestDecodeProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sound(t, rapid.SliceOfN(rapid.Byte(), dataSize, dataSize).Draw(t, "data"), calibrated)
	})
}

// FuzzDecode takes calibration and data from the bus and wants no panic, no infinity and nothing beside an error.
func FuzzDecode(f *testing.F) {
	low, high := calibrationBytes(calibrated)
	f.Add(low, high, example)
	f.Add(low, high, []byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0})
	f.Add(make([]byte, lowSize), make([]byte, highSize), example)
	f.Fuzz(func(t *testing.T, low, high, data []byte) {
		if c, err := DecodeCalibration(low, high); err == nil {
			sound(t, data, c)
		} else if c != (Calibration{}) {
			t.Fatalf("%+v, %v", c, err)
		}
	})
}

type failer interface{ Fatalf(string, ...any) }

// sound: a reading is within its ranges, or there is an error of a known kind and no reading.
func sound(t failer, data []byte, c Calibration) {
	r, err := Decode(data, c)
	if err != nil {
		if r != (Reading{}) || !errors.Is(err, sensors.ErrChecksum) && !errors.Is(err, sensors.ErrRange) && !errors.Is(err, sensors.ErrNotReady) {
			t.Fatalf("% X: %+v, %v", data, r, err)
		}
		return
	}
	if !(r.Temperature >= 233.15-1e-9 && r.Temperature <= 358.15+1e-9) || !(r.Pressure >= 30000 && r.Pressure <= 110000) ||
		!(r.Humidity >= -0.02-1e-12 && r.Humidity <= 1.02+1e-12) || r.Saturated != (r.Humidity <= 0 || r.Humidity >= 1) {
		t.Fatalf("% X: %+v", data, r)
	}
}
