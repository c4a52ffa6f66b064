// How far and how hard a plain string must be pushed to bend: D. R. Grimes, PLoS ONE 9(7) e102088, 2014. Plain
// functions, any thread.
#pragma once

#include <optional>

#include "dsp/units.h"
#include "src/music/guitar.h"

namespace landfall {

// A string that does not slip at nut, capo or saddle. Real guitars need more travel (slip, floating bridges): say so
// beside the figure.
struct BendEffort {
    double travelMm = 0.0;     // sideways, at the fretted point
    double forceNewton = 0.0;  // the finger's, at the end of the bend
    double stretchMm = 0.0;    // of the whole string
};

// The tension of a plain steel string tuned to `open` over its whole length, in newton.
double openTension(Hertz open, double gaugeInch, double scaleMm);

// The effort of raising a fretted plain string by `rise` (0 to 500 cents). Empty where the model has no answer: a wound
// string, an unknown gauge, an open string, or a bend further than any fingerboard is wide (40 mm).
std::optional<BendEffort> bendEffort(const Guitar& guitar, NeckPlace place, Cents rise);

}  // namespace landfall
