// Which move of a line breaks first as its passes get faster. Plain values and functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/practice/line_marks.h"

namespace landfall {

struct TimedPass {
    double tempo = 0.0;               // played, quarters a minute
    std::vector<std::size_t> failed;  // moves, as PassWords has them
};

struct FasterConfig {
    std::size_t passes = 3;    // fewer say nothing
    double spread = 1.1;       // the fastest against the slowest; a hand's own tempo wanders by less
    double failsAbove = 0.65;  // share of the passes from there on in which it fails, at the least ...
    double failsBelow = 0.35;  // ... and of the slower ones, at the most: a move that never goes well breaks nowhere
};

struct Breaking {
    std::size_t move = 0;
    double tempo = 0.0;  // of the slowest pass from which on it fails
};
// Of several the one that breaks at the slowest tempo, then the one that fails more often from there on.
std::optional<Breaking> breaksFirst(std::span<const TimedPass> passes, const FasterConfig& config = {});

// "Faster, bar 2, beat 3 breaks first: the release, from 92 on."; empty where none does.
std::string fasterWords(const Line& line, std::span<const TimedPass> passes);

}  // namespace landfall
