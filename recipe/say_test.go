package recipe

import (
	"math"
	"testing"
	"time"
)

func TestSayQuantities(t *testing.T) {
	for got, want := range map[string]string{
		SayMillilitres(12e-6): "12 mL", SayMillilitres(2.5e-7): "0.25 mL", SayMillilitres(0): "0 mL", SayMillilitres(-1e-12): "0 mL",
		SayMillilitres(1e-5 / 3): "3.33 mL", SayMillilitres(math.NaN()): "unknown mL", SayMillilitres(5e-3): "5000 mL",
		SayFlow(8e-6 / 60): "8 mL/min", SayPressure(2000): "2 kPa", SayPressure(1234): "1.23 kPa", SayTurning(1): "60 rpm",
		SayTurning(1.0 / 3): "20 rpm", SayTemperature(309.15): "36 °C", SayTemperature(273.15 - 4.25): "-4.3 °C", SayShare(0.25): "25 %",
		SayShare(1.0 / 3): "33.3 %", SayForce(0.98765): "0.988 N", SayForce(math.Inf(1)): "unknown N",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestSayTime(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0:00:00", 90 * time.Second: "0:01:30", 45 * time.Minute: "0:45:00", 25 * time.Hour: "25:00:00", 2500 * time.Millisecond: "0:00:02.5",
		-90 * time.Second: "-0:01:30", 59*time.Second + 960*time.Millisecond: "0:01:00", 40 * time.Millisecond: "0:00:00",
		math.MaxInt64: "2562047:47:16.9", math.MinInt64: "-2562047:47:16.9",
	} {
		if got := SayTime(d); got != want {
			t.Errorf("%d ns is said %q, want %q", d, got, want)
		}
	}
}

func TestSensorSay(t *testing.T) {
	tests := []struct {
		sensor Sensor
		value  float64
		want   string
	}{
		{Lid, 1, "well"}, {EStop, 0, "tripped"}, {RinseFloat, 1, "well"}, {PadFront, 0.9, "0.9 N"}, {HubSpeed, 0.5, "30 rpm"}, {Air, 294.15, "21 °C"},
		{Surface, 293.15, "20 °C"}, {AirOutRH, 0.5, "50 %"}, {Vapour, 0.1, "10 %"}, {Weight, 0.0205, "20.5 g"},
	}
	for _, test := range tests {
		if got := test.sensor.Say(test.value); got != test.want {
			t.Errorf("%v of %v is said %q, want %q", test.sensor, test.value, got, test.want)
		}
	}
	if got := NumSensors.String(); got != "unknown sensor" {
		t.Errorf("no sensor is called %q", got)
	}
}
