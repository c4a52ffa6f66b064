// What a landing is held against: equal temperament, the start notes as they were played lately, or the frets as this
// guitar sounds them. One thread.
#pragma once

#include <cstddef>
#include <deque>
#include <map>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "src/practice/landing.h"
#include "src/practice/note.h"

namespace landfall {

struct HeldTarget {
    double cents = 0.0;  // on the MIDI scale
    Target kind = Target::concert;
};

// Of several strings, from low to high.
struct HeldTargets {
    std::vector<Cents> above;  // equal temperament
    Target kind = Target::concert;
};

// The string of several that the others are pure against: the lowest, or where that one is bent the lowest that is held.
std::size_t heldAgainst(std::span<const Move> strings);

struct OwnFret {
    int note = 0;        // MIDI
    double cents = 0.0;  // on the MIDI scale: as this guitar sounds it
};
using OwnFrets = std::vector<OwnFret>;

class Targets {
public:
    // `known`: from earlier drills on this guitar.
    explicit Targets(Target kind, OwnFrets known = {}) : wanted(kind), frets(std::move(known)) {}

    // Concert pitch where nothing has been learned yet.
    HeldTarget of(const Move& move) const;
    // Of several; `sounding`: how far each sounds above equal temperament. A string whose other one is not heard is held
    // against concert pitch, as is a unison, which is told by how far apart its strings are.
    HeldTargets of(const Move& several, std::span<const std::optional<Cents>> sounding) const;
    void learnStart(const Move& move, Cents error);
    // A plainly held note shows how this guitar is set up.
    void learnFret(const Note& note);
    void learnFret(MidiPitch asked, Cents above);  // so far above equal temperament
    const OwnFrets& ownFrets() const { return frets; }
    // The own guitar's pitch is wanted, and has not been heard yet.
    bool lacks(const Move& move) const;

private:
    const OwnFret* fretOf(const Move& move) const;
    bool knowsAll(const Move& several) const;

    Target wanted;
    std::map<int, std::deque<double>> starts;  // MIDI note -> recent start errors
    OwnFrets frets;
};

}  // namespace landfall
