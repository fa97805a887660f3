package quantity

// Types for command flags, in the manner of periph's physic: Set reads a text, String writes it. All hold SI values.

// VolumeValue is a volume in m³.
type VolumeValue float64

// Set reads a volume such as "12 mL".
func (v *VolumeValue) Set(text string) error { return set((*float64)(v), Volume, text) }

// String writes the volume with its unit.
func (v VolumeValue) String() string { return Volume.Say(float64(v)) }

// FlowValue is a flow in m³/s.
type FlowValue float64

// Set reads a flow such as "8 mL/min".
func (v *FlowValue) Set(text string) error { return set((*float64)(v), Flow, text) }

// String writes the flow with its unit.
func (v FlowValue) String() string { return Flow.Say(float64(v)) }

// TurningValue is a speed of turning in revolutions per second.
type TurningValue float64

// Set reads a speed of turning such as "60 rpm".
func (v *TurningValue) Set(text string) error { return set((*float64)(v), Turning, text) }

// String writes the speed with its unit.
func (v TurningValue) String() string { return Turning.Say(float64(v)) }

// ShareValue is a fraction of one.
type ShareValue float64

// Set reads a share such as "25 %".
func (v *ShareValue) Set(text string) error { return set((*float64)(v), Share, text) }

// String writes the share in percent.
func (v ShareValue) String() string { return Share.Say(float64(v)) }

// set leaves the value as it was when the text is wrong.
func set(to *float64, d Dimension, text string) error {
	v, err := d.Parse(text)
	if err == nil {
		*to = v
	}
	return err
}
