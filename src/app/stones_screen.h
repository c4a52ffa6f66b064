// What the practice screen shows of a line, from what is heard of it and what is asked: stones, their marks, words. Pure
// logic. One thread, the analysis thread.
#pragma once

#include <string>
#include <utility>

#include "gui/snapshot.h"
#include "src/music/guitar.h"
#include "src/practice/line_care.h"
#include "src/practice/line_practice.h"
#include "src/practice/line_words.h"

namespace landfall {

class StonesScreen {
public:
    StonesScreen(std::string title, Guitar guitar, Cents aim);

    // The line asked from now on: the whole, or a part of so many moves.
    void ask(const Line& line, std::size_t ofWhole);
    // Each event; `words` are of the pass that is over with it, `faster` says what breaks first as passes get faster.
    void hear(const LineEvent& event, const PassWords& words, const std::string& faster = "");
    // What care asks now, and whether any move of the last pass failed.
    void follow(const LineState& state, bool anyFailed);
    void say(std::string sentence);
    // That was enough of it; whoever plays on may.
    void end();
    // From the start: the first move is to be played next.
    void again();

    const Stones& stones() const { return shown; }
    // Grows with every change of stones().
    unsigned long version() const { return changes; }

private:
    void reached(std::size_t move);
    void told(const LineMark& mark, const LineTrace& trace);
    void over(const PassOver& over, const PassWords& words, const std::string& faster);
    void put(Stone& stone, const LineMark& mark, const LineTrace& trace) const;
    void askFor(std::size_t move);
    std::string moveWords(std::size_t move) const;

    Guitar guitar;
    Line line;
    std::size_t whole = 0;
    int passes = 0;
    std::string breaksFirst;  // in this sitting
    LineState care;
    bool ended = false;
    Stones shown;
    unsigned long changes = 1;
};

}  // namespace landfall
