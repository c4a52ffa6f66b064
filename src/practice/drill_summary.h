// What a drill's end says of its tries, and the one next step. Plain functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/music/drill.h"
#include "src/practice/ear_guess.h"
#include "src/practice/tally.h"

namespace landfall {

// One step of a try, as it was marked.
struct DrillMark {
    Landing landing;
    bool guided = false;           // played with the live trace
    std::optional<Guess> guess{};  // of a set by ear
    NeckPlace place{0, 0};         // of the set; string 0: not known
};

// One step of a drill at one of its places.
struct PlaceTally {
    NeckPlace place;
    int step = 0;
    GestureTally tally;
};

// What the end shows of a place: "B string · fret 8", "5 of 6 good, 9 ¢ off", and the same of the last time.
struct EndRow {
    std::string place, now, before;
    bool operator==(const EndRow&) const = default;
};

struct DrillSummary {
    std::vector<GestureTally> gestures;
    std::vector<PlaceTally> places;  // in the order of the drill, those that were played
    std::string guesses;             // "You guessed 4 of 5 right by ear."; empty where nothing was guessed
    Words words;                     // "Usually 14 cents off, mostly low", "9 of 15 within 25 cents; 2 died."
    std::string nextStep;            // one sentence, of the place and step that went worst
};

DrillSummary summarise(std::span<const DrillMark> marks, const Drill& drill, Cents aim, const Guitar& guitar = {});
// A row for each place and step that was played now; `before` may be empty.
std::vector<EndRow> endRows(const DrillSummary& now, const DrillSummary& before, const Drill& drill,
                            const Guitar& guitar);

}  // namespace landfall
