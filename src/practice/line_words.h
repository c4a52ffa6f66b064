// What is said of a pass of a line: how much landed, the one thing to mend first, the moves that failed, the tempo.
// Plain functions, any thread.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "src/practice/line_marks.h"

namespace landfall {

// "not played", "heard F♯4", "in tune", of a hint "went 42 cents", over frets "right fret", of a fall "fell 7 frets"; of a
// slide whose first note was heard as one "right fret, its first note for 0.19 s"; of several strings what each did.
std::string wordsOf(const LineMove& asked, const LineMark& mark);

// "Bar 2, beat 3"; of a line without beats "Move 7".
std::string placeOf(const LineMove& move);

// Where the top of a hint lies against what was asked: 0 within its range, + over, in cents.
double hintOutside(const LineMove& asked, Cents landingError);

// "full step", "release", "G4"
std::string moveName(const Move& move);

// A move as its stone shows it.
struct MoveShown {
    std::optional<Cents> at{};         // where its mark lies against the target
    std::optional<Seconds> arrival{};  // after its beginning
    bool inside = false, lost = false;
    std::string figure{};  // "−31", "F♯4", "died"; of a hint how far it went
};
MoveShown shownOf(const LineMove& asked, const LineMark& mark, Cents aim);
// What counts as there in place of the aim: of a hint half its range, of an open end nothing, 0.
std::optional<Cents> ownAim(const LineMove& asked);

// What went wrong with a move, as a headline; empty where nothing did.
std::string faultOf(const LineMove& asked, const LineMark& mark, Cents aim);

// Short lines, for eyes two metres away.
struct PassWords {
    std::string share;                   // "29 of 31 landed, 1 stroke too many."
    std::string headline;                // "Bar 2, beat 3: the full step stopped 31 under"
    std::vector<std::string> failed;     // the others, as the headline
    std::string tempo;                   // "Played at 72; 76 asked."; empty: not known
    std::vector<std::size_t> moves{};    // all that failed, in the line's order ...
    std::optional<std::size_t> first{};  // ... and the headline's
};
// First comes a wrong note, then a missed one, one that died, the largest first stop outside the aim, the latest. A
// first stop counts where the hand makes the pitch, not the fret. The tempo played is said against the one asked.
PassWords wordsOf(const Line& line, const LineMarks& marks, Cents aim, std::optional<double> tempoAsked = {});

}  // namespace landfall
