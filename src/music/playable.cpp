#include "src/music/playable.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <fmt/core.h>

#include "src/music/chord_move.h"

namespace landfall {

namespace {

constexpr double widestPlayable = 5.0;  // half steps; two and a half steps
constexpr double leastBend = 0.5;       // half steps; a try that lands nearer to its start is none
constexpr double sameBend = 0.01;       // half steps
constexpr double scaleMm = 647.7;       // 25.5 in, the commonest (common practice)
constexpr double handMm = 130.0;        // what a hand covers where it is: frets 1 to 5
constexpr double handMmAs = 2000.0;     // and how fast it goes at most; aimed arm movements stay below

constexpr int widestReach = 5;  // frets between the fingers of one hand (common practice)

double neckMm(int fretFromNut) { return scaleMm * (1.0 - std::exp2(-fretFromNut / 12.0)); }

}  // namespace

std::optional<std::string> whyNoBend(int fret, double halfSteps) {
    if (fret == 0) return "a bend of an open string; it needs a finger on the string";
    if (halfSteps > widestPlayable + sameBend)
        return fmt::format("a bend of {:g} half steps; a string bends {:g} at most", halfSteps, widestPlayable);
    return {};
}

std::optional<std::string> whyTooSmall(std::string_view gesture, double halfSteps) {
    if (std::abs(halfSteps) > leastBend - sameBend) return {};
    return fmt::format("a {} of less than half a half step is too small to be told from a note that dies", gesture);
}

std::optional<std::string> whyOutOfReach(int fromFret, int toFret, int capo, Seconds time, bool slid) {
    if (fromFret == 0 || toFret == 0) return {};  // an open string needs no finger
    const double way = std::abs(neckMm(toFret + capo) - neckMm(fromFret + capo));
    if ((slid ? way : way - handMm) <= handMmAs * time.value) return {};
    return fmt::format(
        "from fret {} to fret {} in {:.0f} ms; no hand gets there: write a slower tempo or another place", fromFret,
        toFret, 1000.0 * time.value);
}

std::optional<std::string> whyNotTogether(std::span<const NeckPlace> places) {
    if (places.size() > mostStruckTogether)
        return fmt::format("two to {} strings sound together, not {}", mostStruckTogether, places.size());
    std::vector<int> fretted;
    for (const NeckPlace& place : places) {
        if (std::ranges::count(places, place.string, &NeckPlace::string) > 1)
            return fmt::format("two notes on string {} at once: one string sounds one note", place.string);
        if (place.fret > 0) fretted.push_back(place.fret);
    }
    if (fretted.empty()) return {};
    const auto [low, high] = std::ranges::minmax(fretted);
    if (high - low <= widestReach) return {};
    return fmt::format("a hand does not reach over {} frets: {} at most", high - low, widestReach);
}

}  // namespace landfall
