// Where on the neck a student lands under or over, and how sure that is: one estimate for each place and kind of move,
// each helped by its neighbours. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <tuple>
#include <vector>

#include "src/review/reviewed_try.h"

namespace landfall {

struct MapCell {
    MoveKind kind;
    NeckPlace place{0, 0};
    int tries = 0;        // that were measured
    int days = 0;         // on which they were played
    double bias = 0.0;    // cents, + over
    double doubt = 0.0;   // half of the interval that holds the true bias with 90 %
    double spread = 0.0;  // of single tries at this place, robust
    double force = 0.0;   // N, by the bending model; 0: no answer, or no bend
};

struct BiasMap {
    std::vector<MapCell> cells;  // played ones, kind by kind, then string, fret; behind them those that were asked for
    // One map of all that the tries leave possible, cell by cell, where one was asked for: bias in cents.
    std::vector<double> drawn;
    double cold = 0.0;  // cents by which the day's very first try differs; falls by e every five tries
    int tries = 0;
};

// Fewer say nothing of a place by themselves: it is left without a verdict.
constexpr int leastForPlace = 20;

struct MapPlace {
    MoveKind kind;
    NeckPlace place{0, 0};

    bool operator==(const MapPlace&) const = default;
    auto operator<=>(const MapPlace& other) const {
        return std::tie(kind, place.string, place.fret) <=> std::tie(other.kind, other.place.string, other.place.fret);
    }
};

struct MapWish {
    std::size_t most = 10000;      // the latest so many measured tries: how a hand landed long ago says little of today
    std::vector<MapPlace> also{};  // places that may not have been played yet: they have what their neighbours say
    std::optional<unsigned> draw{};  // seed of `drawn`
};

// Whether it is one of those that the map is made of, if it is among the latest.
bool isOnMap(const ReviewedTry& one);

// `guitar`: for the force.
BiasMap biasMapOf(std::span<const ReviewedTry> tries, const Guitar& guitar, const MapWish& wish = {});

}  // namespace landfall
