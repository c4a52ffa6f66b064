// Where the asked moves were played in a note, and how each landed. One thread.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include "src/practice/landing_judge.h"
#include "src/practice/targets.h"

namespace landfall {

struct MoveFinderConfig {
    JudgeConfig judge;
    double runOfNotes = 0.300;  // a stroke this soon after one on another pitch belongs to a run
};

struct FoundStep {  // one move found in a note
    std::size_t move = 0;
    Landing landing;
    std::size_t stop = 0;  // the stretch it landed on; 0: it did not land
    bool landed() const { return landing.landingError.has_value(); }
};

class MoveFinder {
public:
    MoveFinder(const MoveFinderConfig& given, Targets known) : targets(std::move(known)), config(given) {}

    bool startsOn(const Note& note, std::size_t move) const;
    // A stroke soon after one on another pitch. `before`: the note before, nullptr where there is none that matters.
    bool isOfRun(const Note& note, const Note* before) const;
    // The move and those that go on from it under the same stroke, from stretch `from` on.
    std::vector<FoundStep> chain(const Note& note, std::size_t move, std::size_t from,
                                 const JudgeConfig& judging) const;
    // The string that was bent may be the one that the tracker hears second, beside an open neighbour struck along with
    // it.
    bool secondStartsOn(const Note& note, std::size_t move) const;
    std::vector<FoundStep> second(const Note& note, std::size_t move, const Note* before) const;
    // A shift slide that is picked again where it arrives is one note that begins at the first stroke: that note, until
    // the next question; nullptr: it is none. Before the second stroke the pitch must have left its place for the target
    // by more than half a fret: two notes picked one after the other are no slide.
    const Note* slidInto(const Note& before, const Note& note, std::size_t move) const;

    // The first move asked that is held against concert pitch only because this guitar's own is not known yet.
    std::optional<Move> lackingTarget() const;

    const JudgeConfig& judging() const { return config.judge; }
    double runOfNotes() const { return config.runOfNotes; }

    std::vector<Move> moves;
    Targets targets;

private:
    // A note read out of another. It grows with it, so that a look at one that rings on costs no more than the first.
    struct ReadOut {
        Move move;
        Note of, note;                 // the other with nothing heard of it, and what was read out
        std::size_t taken = 0;         // of the other's points
        PitchPoint last{};             // of these
        std::vector<double> beside{};  // cents, in order of size: the other's where a second string was read out

        bool goesOnWith(const Move& asked, const Note& other) const;
    };
    ReadOut& readOut(std::vector<ReadOut>& known, const Move& move, const Note& of, const Note& begin) const;
    const Note* secondOf(const Note& of, const Move& move) const;

    MoveFinderConfig config;
    mutable std::vector<ReadOut> seconds, slides;  // of the last looks
};

}  // namespace landfall
