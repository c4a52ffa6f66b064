// A move of several strings at once: two-note harmonies, unison and oblique bends, double-stop bends, chord slides. Plain
// values, any thread.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "src/music/move.h"

namespace landfall {

// One stroke over all strings. A string that is only held has a note as its move.
struct ChordMove {
    static constexpr std::size_t mostStrings = 3;

    Gesture gesture = Gesture::note;  // note, slide, bend or release
    std::vector<Move> strings;        // as they were written: from low to high where the chord starts
    bool operator==(const ChordMove&) const = default;
};

// One string bends up to the note that the other one holds.
bool isUnison(const ChordMove& move);
// Whether `after` can follow `before` under the same stroke: each string starts on the note where it ended.
bool goesOn(const ChordMove& before, const ChordMove& after);

// "D4+B4 – E4+C5"; of strings that are only struck "D4+B4".
std::string notesOf(const ChordMove& move);

// Whether a move of several strings is meant: its notes are joined by +.
bool namesSeveralStrings(std::string_view move);
// Reads GESTURE:FROM:TO, for example bend:D4+G4:E4+G4; note:D4+B4 for note:D4+B4:D4+B4.
Result<ChordMove> parseChordMove(std::string_view text);

}  // namespace landfall
