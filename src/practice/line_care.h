// Rests and limits of practising a line: the warm-up before its first full step, a minute off between two passes, the
// end of a sitting. Pure logic; the time is any clock that only goes forwards. One thread.
#pragma once

#include <string>

#include "src/practice/line_marks.h"
#include "src/practice/practice_care.h"

namespace landfall {

enum class LinePhase { warmUp, playing, resting, done };

struct LineState {
    LinePhase phase = LinePhase::playing;
    Seconds left{};       // of the warm-up or the minute off
    std::string message;  // one line where something is to be said: why it is over
};

class LineCare {
public:
    struct Config {
        Guitar guitar;
        bool firstMonth = true;  // of this student
        SittingLoad load{};      // what this sitting has played before
        CareLimits limits{};
    };
    LineCare(Config given, const Line& line, Seconds now);

    void tick(Seconds now);    // at least a few times a second
    void played(Seconds now);  // a move was: the guitar is in the hand
    void passOver(const Line& line, const LineMarks& marks, Seconds now);
    // Another line from now on, or a part of it.
    void ask(const Line& line);
    // Ends the warm-up; a minute off is for the hand, and stays.
    void next();

    const LineState& state() const { return current; }
    const SittingLoad& load() const { return config.load; }

private:
    void go(const Line& line);

    Config config;
    LineState current;
    int tries = 0;  // since the last set was counted
    Seconds clock, lastPlayed;
};

}  // namespace landfall
