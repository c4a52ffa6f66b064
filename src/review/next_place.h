// What to play next, and why: the day's first probes, then the place that deserves it most, reviews of what was learned,
// and now and then a place that was never tried. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/music/drill.h"
#include "src/review/bias_map.h"

namespace landfall {

struct NextPlace {
    enum class Why {
        probe,   // a fixed place, tried cold: the days are compared by these
        leans,   // lands under or over by more than is doubtful
        unsure,  // may lean: a few tries will tell
        wide,    // lands on both sides, far apart
        review,  // lands well, and was not played for days
        untried  // never played
    };
    Why why = Why::probe;
    MapPlace at;
    int tries = 2;                  // so many, then ask again
    std::vector<NeckPlace> then{};  // where the same kind of move is wanted next
    std::string reason{};           // one sentence
    int probe = 0, probes = 0;      // which of the day's; 0: none of them
};

// The same every day, easy ones first: half steps before anything wider, as the hand's care wants it.
std::vector<MapPlace> coldProbes(const Guitar& guitar);

// Where the coach may send a player: kinds of the probes on the plain strings, at places that need no more force than
// care allows and where the bending model has an answer.
std::vector<MapPlace> allowedPlaces(const Guitar& guitar);

// `tries`: all that are known, in the order played; `today`: their day, or one more where nothing was played today;
// `easyOnly`: nothing of a full step and more, because the hands have done their full steps. The same question has
// the same answer. Empty: this guitar has no place that may be asked for.
std::optional<NextPlace> nextPlace(std::span<const ReviewedTry> tries, const Guitar& guitar, int today,
                                   bool easyOnly = false);

// How much a place needs to be played, where its bias is `bias` cents; 0: it lands as well as it gets.
double needOf(const MapCell& cell, double bias);
// The place as what comes next, with its reason.
NextPlace placeFor(const MapCell& cell, const Guitar& guitar);

// A drill of it and of what comes then, to be played as any other; its name is whatNextName.
inline constexpr const char* whatNextName = "What next";
Drill drillOf(const NextPlace& next, const Guitar& guitar);

}  // namespace landfall
