package recipe

import (
	"fmt"
	"time"

	"fullery/recipe/quantity"
)

// sensorKind is what sensors of one kind have in common: dimensions, and how often and how long their readings serve
// unless the file says otherwise. The times are our own choice: half a second for what stops a motor, some seconds for
// air, which changes slowly.
type sensorKind struct {
	dim, drift   quantity.Dimension
	noise        float64 // the most noise or step that a file may give, in SI
	stale, every time.Duration
}

var (
	contactKind  = sensorKind{stale: 500 * time.Millisecond, every: 50 * time.Millisecond}
	forceKind    = sensorKind{quantity.Force, quantity.ForceDrift, 10, 600 * time.Millisecond, 100 * time.Millisecond}
	turningKind  = sensorKind{quantity.Turning, quantity.TurningDrift, 50, time.Second, 200 * time.Millisecond}
	airKind      = sensorKind{quantity.Temperature, quantity.HeatDrift, 20, 3 * time.Second, 500 * time.Millisecond}
	humidityKind = sensorKind{quantity.Share, quantity.ShareDrift, 0.5, 5 * time.Second, time.Second}
	vapourKind   = sensorKind{quantity.Share, quantity.ShareDrift, 0.5, 5 * time.Second, time.Second}
	massKind     = sensorKind{quantity.Mass, quantity.MassDrift, 0.1, 5 * time.Second, 500 * time.Millisecond}
)

// kind returns what the sensor has in common with its kind.
func (s Sensor) kind() sensorKind {
	switch s {
	case PadFront, PadBack:
		return forceKind
	case PadsSpeed, HubSpeed, FanSpeed:
		return turningKind
	case AirIn, Air, AirOut, Surface:
		return airKind
	case AirInRH, AirOutRH:
		return humidityKind
	case Vapour:
		return vapourKind
	case Weight:
		return massKind
	}
	return contactKind
}

// Contact tells whether the sensor is a contact, which reads 1 when all is well and 0 when not.
func (s Sensor) Contact() bool { return s <= RinseFloat }

// dimension is what the sensor measures. Contacts have none; they are told apart by Contact.
func (s Sensor) dimension() quantity.Dimension { return s.kind().dim }

// indispensable returns the sensors that this bench is refused without, and why.
func indispensable(top *section) map[Sensor]string {
	all := map[Sensor]string{
		Lid:       "nothing may turn or wet with the lid open",
		EStop:     "the emergency stop has to be seen",
		TrayFloat: "an overflowing tray has to be seen",
	}
	add := func(part, why string, sensors ...Sensor) {
		for _, s := range sensors {
			if top.has(part) {
				all[s] = why
			}
		}
	}
	add("pump", "the pump would run dry unseen", TankFloat)
	add("rinse-pump", "the rinse pump would run dry unseen", RinseFloat)
	add("pads", "pads turn only while their force and speed are seen", PadFront, PadBack, PadsSpeed)
	add("hub", "a hub that stalls has to be seen", HubSpeed)
	add("fan", "a fan that stands has to be seen", FanSpeed)
	add("heater", "the heater runs only while the air at the cartridge is seen", Air)
	return all
}

// sensors reads the [sensors.NAME] tables.
func (b *Bench) sensors(top *section) {
	s := top.table("sensors")
	for i := range NumSensors {
		if sub := s.table(i.String()); sub.there() {
			b.Sensors[i] = b.sensor(sub, i)
			b.wire(sub, i)
			sub.done()
		}
	}
	s.done()
}

// sensor reads what every bench tells of a sensor, and on a simulated one how it misbehaves.
func (b *Bench) sensor(s *section, which Sensor) SensorSpec {
	kind := which.kind()
	spec := SensorSpec{Fitted: true, Stale: kind.stale, Every: kind.every}
	if v, ok := s.time("stale", staleAfter); ok {
		spec.Stale = v
	}
	if v, ok := s.time("every", madeEvery); ok {
		spec.Every = v
	}
	if spec.Stale <= spec.Every {
		s.wrong("stale", fmt.Sprintf("%s would always be stale: it is read every %s and not used after %s", which,
			quantity.Duration.Say(spec.Every.Seconds()), quantity.Duration.Say(spec.Stale.Seconds())),
			"make stale at least twice every")
	}
	keys := []string{"noise", "lag", "drift", "step"}
	switch {
	case !b.Simulated:
		s.refuse(keys, "is for a simulated bench", "leave it out; a real sensor has its own")
	case which.Contact():
		s.refuse(keys, "is not for a contact", "a contact has only stale and every")
	default:
		spec.behaviour(s, kind)
	}
	return spec
}

// behaviour reads how a simulated sensor differs from the truth.
func (spec *SensorSpec) behaviour(s *section, kind sensorKind) {
	size := span{kind.dim, 0, kind.noise}
	if kind.dim == quantity.Temperature {
		size.dim = quantity.Difference
	}
	spec.Noise, _ = s.quantity("noise", size)
	spec.Step, _ = s.quantity("step", size)
	spec.Drift, _ = s.quantity("drift", span{kind.drift, -kind.noise / 60, kind.noise / 60})
	spec.Lag, _ = s.time("lag", sensorLag)
}

// senseSensors checks that the bench has what its guards cannot do without, and nothing that has nothing to measure.
func (b *Bench) senseSensors(top *section) {
	wants := indispensable(top)
	for i := range NumSensors {
		if why, wanted := wants[i]; wanted && !b.Sensors[i].Fitted {
			top.wrong("sensors", fmt.Sprintf("the bench has no sensor %s: %s", i, why), fmt.Sprintf("add [sensors.%s]", i))
		}
	}
	parts := map[Sensor]string{
		TankFloat: "pump", RinseFloat: "rinse-pump", PadFront: "pads",
		PadBack: "pads", PadsSpeed: "pads", HubSpeed: "hub", FanSpeed: "fan",
	}
	for i := range NumSensors {
		if part := parts[i]; part != "" && !top.has(part) && b.Sensors[i].Fitted {
			top.warn("sensors."+i.String(), fmt.Sprintf("%s has nothing to watch: the bench lacks its part", i),
				"add the part, or leave the sensor out")
		}
	}
}
