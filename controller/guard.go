package controller

// Guard identifies one watched condition. The table of guards says what each watches and does.
type Guard uint8

// The guards, most urgent first.
const (
	noGuard Guard = iota
	EStopPressed
	LidOpen
	DriveFailing
	FanUnproven
	AirTooHot
	HeaterStuck
	VapourHigh
	TrayWet
	DoseOver
	PadLight
	PadHeavy
	PadsUneven
	PadsOn
	PadsStalled
	HubSlow
	TankLow
	ReadingStale
	ReadingImplausible
	LoopLate
	RecordFailing
	StageOvertime
	CycleOvertime
	CutShort
	VapourRising
	numGuards
)

var guardNames = [numGuards]string{
	"none", "estop", "lid-open", "drive-failing", "fan-unproven", "air-too-hot", "heater-stuck", "vapour-high",
	"tray-wet", "dose-over", "pad-light", "pad-heavy", "pads-uneven", "pads-on", "pads-stalled", "hub-slow", "tank-low",
	"reading-stale", "reading-implausible", "loop-late", "record-failing", "stage-overtime", "cycle-overtime",
	"cut-short", "vapour-rising",
}

// String returns the guard's id.
func (g Guard) String() string {
	if g < numGuards {
		return guardNames[g]
	}
	return "unknown guard"
}

// Response is what a guard does when it trips.
type Response uint8

// The responses, mildest first.
const (
	Warn Response = iota
	ToHold
	ToAbort
)

var responseNames = [...]string{"warn", "hold", "abort"}

// String returns the word for the response.
func (r Response) String() string {
	if int(r) < len(responseNames) {
		return responseNames[r]
	}
	return "unknown response"
}

// Refusal is why an order was not taken.
type Refusal uint8

// The refusals.
const (
	NotRefused   Refusal = iota
	WrongState           // the order means nothing in this state
	CauseRemains         // a guard's cause is still there
	LookFirst            // a person must look and confirm
	PurgeFirst           // the fan must clear the vapour first
	NothingToDry         // the recipe has no dry stage ahead
)
