// The moves of a recording laid out over its notes, both in their order, so that as many as possible landed: a move that
// was not played does not take the note of the next one. One thread.
#pragma once

#include <vector>

#include "src/practice/move_finder.h"

namespace landfall {

class RecordingLayout {
public:
    // Where a move may begin: a note's stroke, and each of its later stays, where a stroke may have gone unheard.
    struct Place {
        std::size_t note = 0, stretch = 0;
        bool run = false;  // at the stroke: inside a run, unless the note before was a try
    };
    struct Choice {
        double worth = 0.0;
        std::size_t move = 0, steps = 0, nextPlace = 0;  // no steps: nothing begins here
    };

    // Both must outlive it.
    RecordingLayout(const std::vector<Note>& heard, const MoveFinder& finder);

    const std::vector<Place>& places() const { return all; }
    // What begins at a place if `move` is the next to be played; `matched`: the note before, or so far, was a try.
    const Choice& choice(std::size_t place, std::size_t move, bool matched) const;
    std::vector<FoundStep> steps(const Place& at, std::size_t move, bool matched) const;

private:
    Choice best(std::size_t place, std::size_t from, bool matched,
                const std::vector<std::vector<FoundStep>>& found) const;
    std::size_t after(std::size_t place, std::size_t stop) const;

    const std::vector<Note>& notes;
    const MoveFinder& finder;
    std::vector<Place> all;
    std::vector<Choice> choices;
};

}  // namespace landfall
