// Where the asked moves were played in a note, and how each landed. One thread.
#pragma once

#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "src/practice/beside.h"
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
    // The ear outlives it.
    MoveFinder(const MoveFinderConfig& given, Targets known, const BesideEar& ear)
        : targets(std::move(known)), config(given), beside(ear) {}

    bool startsOn(const Note& note, std::size_t move) const;
    // A stroke soon after one on another pitch. `before`: the note before, nullptr where there is none that matters.
    bool isOfRun(const Note& note, const Note* before) const;
    // The move and those that go on from it under the same stroke, from stretch `from` on.
    std::vector<FoundStep> chain(const Note& note, std::size_t move, std::size_t from,
                                 const JudgeConfig& judging) const;
    // What was struck along with the asked string, which may be all that the tracker hears. `second` tells it once the
    // note is over, where the asked string was moved: two strings rang.
    std::optional<MidiPitch> struckBeside(const Note& note, std::size_t move) const;
    std::vector<FoundStep> second(const Note& note, std::size_t move, const Note* before) const;
    // What rang beside the landings that are known by now (s), of a note that is over all; the first one beside which a
    // string rang as loud is not measured, and the last.
    void lookBeside(std::vector<FoundStep>& steps, double now, bool over) const;
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
    // A slide's two notes as one. It grows with the second, so that a look at one that rings on costs no more than the
    // first.
    struct Joined {
        Move move;
        Note of, note;          // the second with nothing heard of it, and both
        std::size_t taken = 0;  // of the second's points
        PitchPoint last{};      // of these

        bool goesOnWith(const Move& asked, const Note& other) const;
    };
    Joined& joinedOf(const Move& move, const Note& of, const Note& before) const;
    std::optional<BesideEar::Other> besideLanding(const Landing& landing) const;
    static FoundStep twoStrings(const FoundStep& step, MidiPitch other);

    MoveFinderConfig config;
    const BesideEar& beside;
    mutable std::vector<Joined> slides;  // of the last looks
    // What rang beside landings already told, by the stroke and the move: what was told stands.
    mutable std::map<std::pair<double, int>, std::optional<BesideEar::Other>> told;
};

}  // namespace landfall
