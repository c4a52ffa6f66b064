// A try as figures over many tries see it: which kind of move, where, on which day, how it landed. Plain values, any
// thread.
#pragma once

#include <optional>
#include <string>

#include "src/music/guitar.h"
#include "src/store/logged_try.h"

namespace landfall {

// What is compared with what: bends, releases and pre-bends of each width by themselves, and what several strings do.
struct MoveKind {
    Gesture gesture = Gesture::bend;
    int halfSteps = 0;     // of a bent one, in halves of a semitone; else 0
    bool several = false;  // strings at once

    auto operator<=>(const MoveKind&) const = default;
};
MoveKind moveKindOf(const Move& move);
std::string nameOf(const MoveKind& kind);  // "full step bends", "slides"

struct ReviewedTry {
    std::int64_t sitting = 0;
    int number = 0;
    CalendarTime at;
    int day = 0;    // counts the student's days of practice, 0 the first
    int ofDay = 0;  // how many counted tries came before it that day
    MoveKind kind;
    std::optional<NeckPlace> place;  // of a move of one string: the map of the neck is of these
    Cents aim{25.0};
    bool guided = false, inside = false, lost = false;
    bool demanding = false;         // a bend or pre-bend of a full step or more, for the hand's care
    bool counted = false;           // isCounted, and not struck
    std::optional<double> error;    // first stop, cents; empty where it is no measure of the hand
    std::optional<double> arrival;  // s, from the stroke
};

}  // namespace landfall
