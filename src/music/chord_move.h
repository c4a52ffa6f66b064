// A move of several strings at once: two-note harmonies, unison and oblique bends, double-stop bends, chord slides. It is
// a Move with others (Move::with) under one stroke. Plain values, any thread.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "src/music/move.h"

namespace landfall {

struct Guitar;

inline constexpr std::size_t mostStruckTogether = 6;  // strings

// Each string's own move, from low to high where they start; of a move of one string that one.
std::vector<Move> stringsOf(const Move& move);
// One move of them all, from low to high where they start: the lowest that moves leads. `gesture` is what all of them do
// together.
Move together(Gesture gesture, std::vector<Move> strings);

// Gestures that several strings can do at once.
bool mayBeTogether(Gesture gesture);
// One string bends up to the note that the other one holds.
bool isUnison(const Move& move);
std::size_t heldString(const Move& unison);  // which one that is, from low to high
// What is wrong with a move of several strings; empty: nothing.
std::string faultOf(const Move& move);

// "sixth", of so many semitones up.
std::string_view harmonyName(int semitones);

// "D4+B4 – E4+C5"; of strings that are only struck "D4+B4".
std::string notesOf(const Move& move);

// Where they are and what they do, from low to high: "D 5 + B 5 · slide to fret 7", over frets of their own "A 3 + B 5 ·
// slide up 2 frets", each for itself "G 7 full step + B 8 held". Precondition: every string has its place.
std::string shapeWords(const Guitar& guitar, const Move& move);

// Whether a move of several strings is meant: its notes are joined by +.
bool namesSeveralStrings(std::string_view move);
// Reads GESTURE:FROM:TO, for example bend:D4+G4:E4+G4; note:D4+B4 for note:D4+B4:D4+B4.
Result<Move> parseChordMove(std::string_view text);

}  // namespace landfall
