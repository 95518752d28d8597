// Package caution holds the warnings that belong beside a manometer's numbers, each said once and short.
//
// It gives no instructions for handling: those are the supplier's and the site's.
package caution

import "strings"

// The warnings.
const (
	Mercury   = "Mercury: its vapour is poisonous at room temperature. Tray, ventilation, spill kit; dispose of it as hazardous waste."
	Flammable = "Flammable liquid: no flames or sparks near open limbs, wipe up spills, keep the filling small."
	Glass     = "Glass under pressure: know its rating, relieve it before opening, wear eye protection. Not a safety device; local codes and licensed practice decide."
)

// For gives the warnings for instruments with these liquids, by the names they have in a configuration. Glass comes
// last and always.
func For(liquids ...string) []string {
	mercury, burns := false, false
	for _, name := range liquids {
		mercury = mercury || name == "mercury"
		burns = burns || Burns(name)
	}
	list := []string{}
	if mercury {
		list = append(list, Mercury)
	}
	if burns {
		list = append(list, Flammable)
	}
	return append(list, Glass)
}

// Burns tells whether a built-in liquid burns: spirits and mineral oils do. A liquid of the user's own is called by a
// name that says nothing, unless it has one of the words below in it.
func Burns(name string) bool {
	for _, word := range []string{"ethanol", "alcohol", "spirit", "oil", "jet-fuel", "gasoline", "kerosene"} {
		if strings.Contains(name, word) {
			return true
		}
	}
	return false
}
