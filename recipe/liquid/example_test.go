package liquid_test

import (
	"fmt"

	"fullery/recipe/liquid"
)

// The boiling point is where the vapour pressure reaches 1 atm: for ethanol 78.29 °C in the CRC Handbook.
func ExampleComponent_Saturation() {
	fmt.Printf("%.1f kPa\n", liquid.Ethanol.Saturation(273.15+78.29)/1000)
	// Output: 101.5 kPa
}

// Geankoplis takes 0.25 cm²/s for water at 20 °C; Fuller's method gives a little less.
func ExampleComponent_Diffusivity() {
	fmt.Printf("%.2f cm²/s\n", 1e4*liquid.Water.Diffusivity(293.15, 101325))
	// Output: 0.24 cm²/s
}

// de Nevers, example 9.1: a mole fraction of 0.4720 of isopropanol in water has γ = 1.3113 and 1.6310.
func ExampleActivity() {
	gamma := liquid.Activity([liquid.NumComponents]float64{liquid.Water: 0.5280, liquid.Isopropanol: 0.4720}, 354)
	fmt.Printf("isopropanol %.4f, water %.4f\n", gamma[liquid.Isopropanol], gamma[liquid.Water])
	// Output: isopropanol 1.3113, water 1.6310
}

// OIML R 22: 40 % by volume is 33.300 % by mass and has 948.05 kg/m³ at 20 °C.
func ExampleLiquid_Composition() {
	l, _ := liquid.Parse("ethanol-40")
	mix := l.Composition()
	fmt.Printf("%.3f %% by mass, %.2f kg/m³\n", 100*mix[liquid.Ethanol], liquid.Density(mix, 293.15))
	// Output: 33.300 % by mass, 948.05 kg/m³
}

// A published closed-cup list gives ethanol of 60 % by volume 22 °C.
func ExampleLiquid_FlashPoint() {
	l, _ := liquid.Parse("ethanol-60")
	kelvin, ok := l.FlashPoint()
	fmt.Printf("%.0f °C %v\n", kelvin-273.15, ok)
	// Output: 22 °C true
}

func ExampleParse() {
	for _, name := range []string{"isopropanol-70", "isopropanol-70w", "isopropanol-101"} {
		if l, err := liquid.Parse(name); err != nil {
			fmt.Println(err)
		} else {
			fmt.Printf("%s: %.3f by volume, %.3f by mass\n", l.Title, l.Alcohol, l.Composition()[liquid.Isopropanol])
		}
	}
	// Output:
	// isopropanol 70 %: 0.700 by volume, 0.628 by mass
	// isopropanol 70 % by mass: 0.765 by volume, 0.700 by mass
	// "isopropanol-101" has no strength; name it with a whole percentage by volume from 1 to 100, as in "isopropanol-91"
}
