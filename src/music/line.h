// A line of music as it is asked of the player: moves one after another, each with its stroke and its place in time.
// Plain values, any thread.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/music/move.h"
#include "src/music/target.h"

namespace landfall {

// Which moment of a move belongs on its beat: a note is struck there, a slide arrives there.
enum class Anchor { onset, landing };

// How far a hint goes, in cents above the note it starts on: a range, not a pitch.
struct HintRange {
    double least = 20.0, most = 60.0;
    bool operator==(const HintRange&) const = default;
};

struct LineMove {
    Move move;
    bool picked = true;    // its own pick stroke; else it goes on from the move before
    bool vibrato = false;  // it is shaken where it lands
    double beat = 0.0;     // of its anchor, in quarters from the beginning of the line
    Anchor anchor = Anchor::onset;
    double ends = 0.0;  // quarters; where its note ends as written, ties and all, unless a move goes on from it before
    static constexpr int noBar = -1;
    int bar = 1;         // as it is printed: from 1, a pick-up bar is 0; noBar where the line has no beats
    double count = 1.0;  // of its beat in that bar, as a player counts: from 1; without beats its number
    HintRange hint{};    // of a hint; its move goes to the middle
    std::optional<Seconds> lingers{};  // of a slide or a fall: so long at most on the note that it leaves
    std::optional<double> leaves{};    // quarters: where it sets out, where that is written
    std::string listen{};              // for what to listen, as the file says
};

struct Line {
    std::string title;
    std::optional<double> tempo;         // quarters a minute
    double length = 0.0;                 // quarters
    std::vector<MidiPitch> openStrings;  // that it is written for, string 1 first, without the capo
    int capo = 0;
    std::vector<double> barBegins;    // quarters; of each bar in the order in which they are played
    std::vector<LineMove> moves;      // in the order of their beats; move number i + 1 is the i-th
    Target target = Target::concert;  // of several strings: concert or just
    bool inTime = true;               // else its beats only tell the order
    std::string listen;               // for what to listen in it
};

// Some moves of a line as one of their own: each with all that sounds under its pick stroke, those that were no
// neighbours a quarter apart. Bars and counts stay as they are printed.
struct LinePart {
    Line line;
    std::vector<std::size_t> moves;  // of the whole, one for each of the part's
};
LinePart partOf(const Line& line, std::span<const std::size_t> moves);

}  // namespace landfall
