package convert

// Status says how far a value can be trusted, in the three words of OPC UA.
type Status uint8

// The three, from best to worst.
const (
	Good Status = iota
	Uncertain
	Bad
)

// String gives the word used in payloads.
func (s Status) String() string { return [...]string{"good", "uncertain", "bad"}[s] }

// NE107 is the status signal of NAMUR NE 107: what a person should do. Empty means none is active.
type NE107 string

// The four signals. Ranking here: F > C > S > M; that F and C come first is common ground, S before M is our choice.
const (
	NoSignal            NE107 = ""
	Failure             NE107 = "F"
	FunctionCheck       NE107 = "C"
	OutOfSpecification  NE107 = "S"
	MaintenanceRequired NE107 = "M"
)

// rank orders the signals; the higher wins.
func (n NE107) rank() int {
	switch n {
	case Failure:
		return 4
	case FunctionCheck:
		return 3
	case OutOfSpecification:
		return 2
	case MaintenanceRequired:
		return 1
	}
	return 0
}

// Cause is a stable code for one thing that is wrong. Every code has a paragraph in README.md, and a test that it does.
type Cause string

// The causes. The prefix tells where it was found.
const (
	// Found on the line.
	FrameNumber    Cause = "frame-number"     // a field is not a number
	FrameFields    Cause = "frame-fields"     // too few or too many fields
	FrameNUL       Cause = "frame-nul"        // a NUL byte: a parity error or a broken sender
	FrameOverlong  Cause = "frame-overlong"   // no line end within the bound
	FrameChecksum  Cause = "frame-checksum"   // the check value does not match
	FrameFormat    Cause = "frame-format"     // not of the declared form
	FrameAddress   Cause = "frame-address"    // an address that no instrument has
	FrameErrorWord Cause = "frame-error-word" // the digitizer sent a word for "no value"
	Silence        Cause = "silence"          // no good frame for too long
	PortGone       Cause = "port-gone"        // the port cannot be opened, or vanished

	// Found in the positions.
	PositionMissing Cause = "position-missing"  // a needed position is absent
	NotFinite       Cause = "not-finite"        // NaN or infinity
	LimbOffScale    Cause = "limb-off-scale"    // a position beyond the scale
	LimbAtScaleEnd  Cause = "limb-at-scale-end" // a position within twice its uncertainty of the end of the scale
	LimbOffColumn   Cause = "limb-off-column"   // the column ran out of the tube or over the tap by the volume balance

	// Found where a position is worked out from a signal.
	SignalOffPoints   Cause = "signal-off-points"  // beyond the points or the marks it is calibrated by
	LoopFault         Cause = "loop-fault"         // a current by which a transmitter says that it failed
	EchoTooNear       Cause = "echo-too-near"      // within the blanking distance of the sensor
	FiducialsFew      Cause = "fiducials-few"      // too few marks in the image
	FiducialLost      Cause = "fiducial-lost"      // one mark of four is not seen, the others will do
	FiducialsDisagree Cause = "fiducials-disagree" // by more than their uncertainties
	ScoreLow          Cause = "score-low"          // the edge was not found well enough
	EdgesNotOne       Cause = "edges-not-one"      // several edges in the image, or none
	ImageFrozen       Cause = "image-frozen"       // the same image again

	// Found in the conditions.
	TemperatureMissing Cause = "temperature-missing"      // no liquid temperature, and no fixed one configured
	TemperatureRange   Cause = "temperature-out-of-range" // outside what the liquid's source vouches for
	AmbientRange       Cause = "ambient-out-of-range"     // outside what the air equation vouches for
	TiltRange          Cause = "tilt-out-of-range"        // beyond what a base in use has, or not that of the zero with the distance unknown
	TemperatureFixed   Cause = "temperature-fixed"        // a configured value stands in for a measured one
	ChannelOld         Cause = "channel-old"              // a value from elsewhere is too old, and the configured one stands in
	ChannelMissing     Cause = "channel-missing"          // it is too old, and nothing may stand in

	// Found by looking at the instrument for longer than one reading.
	ColumnBroken        Cause = "column-broken"        // both limbs together rose at once: a bubble, or a gap in the column
	LiquidLow           Cause = "liquid-low"           // both limbs together stand lower than at the zero
	ValueStill          Cause = "value-still"          // the same position for longer than ever before
	ValueFrozen         Cause = "value-frozen"         // so much longer that it is proof
	Pulsation           Cause = "pulsation"            // the pressure scatters more than is allowed
	TemperatureChanging Cause = "temperature-changing" // too fast for liquid and scale to be at one
	LineBlocked         Cause = "line-blocked"         // the noise of the room is gone, and a pressure stands
	LineSwapped         Cause = "line-swapped"         // negative for long where only positive pressures can be
	LineErrors          Cause = "line-errors"          // too many frames are refused
	NotLevel            Cause = "not-level"            // the base stands off where it stood at the zero
	CalibrationOverdue  Cause = "calibration-overdue"  // its day has passed
	Settling            Cause = "settling"             // the instrument was just started
	Simulated           Cause = "simulated"            // a proof test: nothing was measured

	// Done by people.
	ZeroCheck Cause = "zero-check" // both ports are open: its zero is being taken
	InService Cause = "in-service" // it is out for maintenance

	// Found in the time of day.
	ClockUncertain Cause = "clock-uncertain" // received before the clock was synchronised for the first time

	// Found in the result.
	PressureRange  Cause = "pressure-out-of-range" // outside the instrument's stated range
	AverageFewGood Cause = "average-few-good"      // too few of the readings of an average were good
)

// statusWord is one line of the table: how a cause shows to OPC UA and to NE 107.
type statusWord struct {
	status Status
	code   uint32
	ne107  NE107
}

// OPC UA status codes. Source: OPC Foundation, StatusCode.csv of OPC UA 1.05 (numeric codes); which finding takes which
// code is common practice and judgement.
const (
	codeGood                  = 0x00000000
	codeUncertain             = 0x40000000
	codeUncertainSubstitute   = 0x40910000
	codeUncertainNotAccurate  = 0x40930000
	codeUncertainUnits        = 0x40940000
	codeUncertainSubNormal    = 0x40A40000
	codeUncertainLastUsable   = 0x40900000
	codeUncertainCalibration  = 0x420A0000
	codeUncertainConfig       = 0x420F0000
	codeBadWaiting            = 0x80320000
	codeUncertainSimulated    = 0x42090000
	codeUncertainInManual     = 0x42080000
	codeBadOutOfService       = 0x808D0000
	codeBadOutOfRange         = 0x803C0000
	codeBadNoCommunication    = 0x80310000
	codeBadSensorFailure      = 0x808C0000
	codeBadConfigurationError = 0x80890000
)

var statusOf = map[Cause]statusWord{
	FrameNumber:    {Bad, codeBadSensorFailure, Failure},
	FrameFields:    {Bad, codeBadNoCommunication, Failure},
	FrameNUL:       {Bad, codeBadNoCommunication, Failure},
	FrameOverlong:  {Bad, codeBadNoCommunication, Failure},
	FrameChecksum:  {Bad, codeBadNoCommunication, Failure},
	FrameFormat:    {Bad, codeBadNoCommunication, Failure},
	FrameAddress:   {Bad, codeBadConfigurationError, Failure},
	FrameErrorWord: {Bad, codeBadSensorFailure, Failure},
	Silence:        {Bad, codeBadNoCommunication, Failure},
	PortGone:       {Bad, codeBadNoCommunication, Failure},

	PositionMissing: {Bad, codeBadSensorFailure, Failure},
	NotFinite:       {Bad, codeBadSensorFailure, Failure},
	LimbOffScale:    {Bad, codeBadOutOfRange, OutOfSpecification},
	LimbAtScaleEnd:  {Uncertain, codeUncertainNotAccurate, OutOfSpecification},
	LimbOffColumn:   {Bad, codeBadOutOfRange, OutOfSpecification},

	SignalOffPoints:   {Bad, codeBadOutOfRange, OutOfSpecification},
	LoopFault:         {Bad, codeBadSensorFailure, Failure},
	EchoTooNear:       {Bad, codeBadSensorFailure, Failure},
	FiducialsFew:      {Bad, codeBadSensorFailure, Failure},
	FiducialLost:      {Good, codeGood, MaintenanceRequired},
	FiducialsDisagree: {Bad, codeBadSensorFailure, Failure},
	ScoreLow:          {Bad, codeBadSensorFailure, Failure},
	EdgesNotOne:       {Bad, codeBadSensorFailure, Failure},
	ImageFrozen:       {Bad, codeBadSensorFailure, Failure},

	TemperatureMissing: {Bad, codeBadSensorFailure, Failure},
	TemperatureRange:   {Bad, codeBadOutOfRange, OutOfSpecification},
	AmbientRange:       {Uncertain, codeUncertain, OutOfSpecification},
	TiltRange:          {Bad, codeBadOutOfRange, OutOfSpecification},
	TemperatureFixed:   {Uncertain, codeUncertainSubstitute, OutOfSpecification},
	ChannelOld:         {Uncertain, codeUncertainSubstitute, OutOfSpecification},
	ChannelMissing:     {Bad, codeBadNoCommunication, Failure},

	ColumnBroken:        {Bad, codeBadSensorFailure, Failure},
	LiquidLow:           {Good, codeGood, MaintenanceRequired},
	ValueStill:          {Uncertain, codeUncertainLastUsable, Failure},
	ValueFrozen:         {Bad, codeBadSensorFailure, Failure},
	Pulsation:           {Uncertain, codeUncertain, OutOfSpecification},
	TemperatureChanging: {Uncertain, codeUncertain, OutOfSpecification},
	LineBlocked:         {Uncertain, codeUncertain, OutOfSpecification},
	LineSwapped:         {Uncertain, codeUncertainConfig, OutOfSpecification},
	LineErrors:          {Good, codeGood, MaintenanceRequired},
	NotLevel:            {Uncertain, codeUncertainCalibration, OutOfSpecification},
	CalibrationOverdue:  {Good, codeGood, MaintenanceRequired},
	Settling:            {Bad, codeBadWaiting, FunctionCheck},
	Simulated:           {Uncertain, codeUncertainSimulated, FunctionCheck},

	ZeroCheck: {Uncertain, codeUncertainInManual, FunctionCheck},
	InService: {Bad, codeBadOutOfService, FunctionCheck},

	ClockUncertain: {Good, codeGood, NoSignal},

	PressureRange:  {Uncertain, codeUncertainUnits, OutOfSpecification},
	AverageFewGood: {Uncertain, codeUncertainSubNormal, OutOfSpecification},
}
