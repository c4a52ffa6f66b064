#include "src/music/bending_model.h"

#include <cmath>
#include <numbers>

namespace landfall {

namespace {

constexpr double youngsModulus = 200e9;  // Pa, steel
constexpr double density = 7850.0;       // kg/m³, steel
constexpr double widestTravel = 0.040;   // m; a fingerboard is 42 to 57 mm wide (common practice)

double crossSection(double gaugeInch) {
    const double diameter = gaugeInch * 0.0254;
    return std::numbers::pi * diameter * diameter / 4.0;
}

// The string stretched from nut (or capo) to saddle, stopped at `a` from the nut. Lengths in metres, forces in newton.
struct StoppedString {
    double a, b, tension, stiffness;

    // Grimes 2014, the general fret model: both parts of the string are stretched by the sideways travel y.
    double strain(double y) const { return (std::hypot(a, y) + std::hypot(b, y) - (a + b)) / (a + b); }
    double bentTension(double y) const { return tension + stiffness * strain(y); }
    // f'/f: the sounding part is longer, the string under more tension and thinner by its strain.
    double ratio(double y) const {
        return b / std::hypot(b, y) * std::sqrt(bentTension(y) * (1.0 + strain(y)) / tension);
    }
    double force(double y) const { return bentTension(y) * (y / std::hypot(a, y) + y / std::hypot(b, y)); }
};

}  // namespace

double openTension(Hertz open, double gaugeInch, double scaleMm) {
    const double speed = 2.0 * scaleMm * 1e-3 * open.value;
    return density * crossSection(gaugeInch) * speed * speed;
}

std::optional<BendEffort> bendEffort(const Guitar& guitar, NeckPlace place, Cents rise) {
    const auto index = static_cast<std::size_t>(place.string - 1);
    if (!hasPlace(guitar, place) || place.fret == 0 || place.string > guitar.plainStrings
        || index >= guitar.gaugesInch.size())
        return {};
    if (!(rise.value >= 0.0 && rise.value <= 500.0)) return {};
    const double gauge = guitar.gaugesInch[index];
    const double length = guitar.scaleMm * 1e-3 * std::exp2(-guitar.capo / 12.0);  // the capo takes the nut's place
    const double sounding = length * std::exp2(-place.fret / 12.0);
    const StoppedString string{length - sounding, sounding,
                               openTension(frequencyOf(guitar.openStrings[index], guitar.a4), gauge, guitar.scaleMm),
                               youngsModulus * crossSection(gauge)};
    const double wanted = std::exp2(rise.value / 1200.0);
    double low = 0.0, high = widestTravel;
    if (string.ratio(high) < wanted) return {};
    // Over this range the ratio has one crossing: it starts at 1 and the tension's growth outruns the lengthening.
    for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        (string.ratio(middle) < wanted ? low : high) = middle;
    }
    return BendEffort{high * 1e3, string.force(high), string.strain(high) * length * 1e3};
}

}  // namespace landfall
