// A try's pitch over time, packed small enough to be kept with every try. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "dsp/units.h"

namespace landfall {

struct CurvePoint {
    Seconds sinceStroke;
    std::optional<Cents> fromTarget;  // empty: no pitch
};
using TryCurve = std::vector<CurvePoint>;

// zlib (RFC 1950) over: a byte 1, then of each point how many ms it comes after the one before (the first: after the
// stroke) and its cents in tenths, both as differences to the point before in 16 bits, low byte first; no pitch is
// written as -32768 and changes no difference. To half a millisecond and a twentieth of a cent. What lies 32 s and more
// from the point before is left out, and so is a pitch more than 1600 cents from the target.
std::string packCurve(std::span<const CurvePoint> points);
// Empty: these bytes are no curve.
std::optional<TryCurve> unpackCurve(std::string_view bytes);

}  // namespace landfall
