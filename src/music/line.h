// A line of music as it is asked of the player: moves one after another, each with its stroke and its place in time.
// Plain values, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/music/move.h"

namespace landfall {

// Which moment of a move belongs on its beat: a note is struck there, a slide arrives there.
enum class Anchor { onset, landing };

struct LineMove {
    Move move;
    bool picked = true;    // its own pick stroke; else it goes on from the move before
    bool vibrato = false;  // it is shaken where it lands
    double beat = 0.0;     // of its anchor, in quarters from the beginning of the line
    Anchor anchor = Anchor::onset;
    double ends = 0.0;   // quarters; where its note ends as written, ties and all, unless a move goes on from it before
    int bar = 1;         // as it is printed: from 1, a pick-up bar is 0
    double count = 1.0;  // of its beat in that bar, as a player counts: from 1
};

struct Line {
    std::string title;
    std::optional<double> tempo;         // quarters a minute
    double length = 0.0;                 // quarters
    std::vector<MidiPitch> openStrings;  // that it is written for, string 1 first, without the capo
    int capo = 0;
    std::vector<double> barBegins;  // quarters; of each bar in the order in which they are played
    std::vector<LineMove> moves;    // in the order of their beats; move number i + 1 is the i-th
};

// Some moves of a line as one of their own: each with all that sounds under its pick stroke, those that were no
// neighbours a quarter apart. Bars and counts stay as they are printed.
struct LinePart {
    Line line;
    std::vector<std::size_t> moves;  // of the whole, one for each of the part's
};
LinePart partOf(const Line& line, std::span<const std::size_t> moves);

}  // namespace landfall
