package quantity

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
)

// Kind says what a text is a quantity of. Each kind has its own units.
type Kind uint8

// The kinds that can be written with a unit.
const (
	PressureKind Kind = iota
	LengthKind
	TemperatureKind
	TemperatureDifferenceKind
	AngleKind
	DensityKind
	AccelerationKind
	SurfaceTensionKind
	VolumeKind
)

// kinds holds, for each kind, its word and its units; the first unit is the SI unit the types hold.
var kinds = [...]struct {
	word  string
	units []unit
}{
	PressureKind:              {"pressure", pressureUnits},
	LengthKind:                {"length", lengthUnits},
	TemperatureKind:           {"temperature", temperatureUnits},
	TemperatureDifferenceKind: {"temperature difference", temperatureDifferenceUnits},
	AngleKind:                 {"angle", angleUnits},
	DensityKind:               {"density", densityUnits},
	AccelerationKind:          {"acceleration", accelerationUnits},
	SurfaceTensionKind:        {"surface tension", surfaceTensionUnits},
	VolumeKind:                {"volume", volumeUnits},
}

// unit is one way to write a quantity: SI value = number · scale + offset.
type unit struct {
	symbol  string // as printed
	aliases string // other spellings, apart by spaces
	scale   string // exact: a decimal, or a fraction of whole numbers
	offset  string // exact; empty means 0
	// assumed says what a symbol without a temperature was taken to mean; empty where nothing was assumed.
	assumed string
}

// String gives the word for the kind.
func (k Kind) String() string {
	if int(k) < len(kinds) {
		return kinds[k].word
	}
	return fmt.Sprintf("kind %d", uint8(k))
}

// Units lists the symbols that Parse accepts, the SI unit first. Other spellings are accepted as well.
func (k Kind) Units() []string {
	var symbols []string
	for _, u := range k.units() {
		symbols = append(symbols, u.symbol)
	}
	return symbols
}

func (k Kind) units() []unit {
	if int(k) < len(kinds) {
		return kinds[k].units
	}
	return nil
}

// find gives the unit with a symbol or another spelling of it.
func (k Kind) find(text string) (unit, error) {
	name := plainSymbol(text)
	for _, u := range k.units() {
		if u.is(name) {
			return u, nil
		}
	}
	hint := ""
	for _, u := range k.units() {
		if strings.EqualFold(plainSymbol(u.symbol), name) {
			hint = fmt.Sprintf("; did you mean %q?", u.symbol)
		}
	}
	return unit{}, fmt.Errorf("unit %q is not one of a %s%s; accepted: %s", shorten(text), k, hint, strings.Join(k.Units(), ", "))
}

// is tells whether name, a plain symbol, is one of the unit's.
func (u unit) is(name string) bool {
	return plainSymbol(u.symbol) == name || slices.Contains(strings.Fields(u.aliases), name)
}

// toSI gives number · scale + offset, exactly.
func (u unit) toSI(number *big.Rat) *big.Rat {
	v := new(big.Rat).Mul(number, rational(u.scale))
	return v.Add(v, rational(u.offset))
}

// fromSI gives (si − offset) / scale, exactly.
func (u unit) fromSI(si *big.Rat) *big.Rat {
	v := new(big.Rat).Sub(si, rational(u.offset))
	return v.Quo(v, rational(u.scale))
}

// rational reads a constant of the tables; a test reads them all. The empty string is 0.
func rational(text string) *big.Rat {
	v, ok := new(big.Rat).SetString(text)
	if !ok {
		return new(big.Rat)
	}
	return v
}

// plainSymbol takes the ornaments off a symbol: "kg/m³" and "kg/m3", "in. H₂O" and "inH2O", "°C" and "C" are the same.
func plainSymbol(text string) string {
	plain := strings.NewReplacer("²", "2", "³", "3", "₂", "2", "µ", "u", "μ", "u",
		" ", "", "\u00a0", "", "\u202f", "", ".", "", "(", "_", ")", "", "@", "_").Replace(text)
	if bare := strings.ReplaceAll(plain, "°", ""); bare != "" {
		return bare
	}
	return plain
}

// shorten cuts a foreign text for a message.
func shorten(text string) string {
	const most = 64
	if len(text) > most {
		return strings.ToValidUTF8(text[:most], "") + "…"
	}
	return text
}
