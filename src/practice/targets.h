// What a landing is held against: equal temperament, the start notes as they were played lately, or the frets as this
// guitar sounds them. One thread.
#pragma once

#include <deque>
#include <map>

#include "src/practice/landing.h"
#include "src/practice/note.h"

namespace landfall {

struct HeldTarget {
    double cents = 0.0;  // on the MIDI scale
    Target kind = Target::concert;
};

class Targets {
public:
    explicit Targets(Target kind) : wanted(kind) {}

    void want(Target kind) { wanted = kind; }
    void forget() { *this = Targets(wanted); }
    // Concert pitch where nothing has been learned yet.
    HeldTarget of(const Move& move) const;
    void learnStart(const Move& move, double errorCents);
    // A plainly held note shows how this guitar is set up.
    void learnFret(const Note& note);

private:
    Target wanted;
    std::map<int, std::deque<double>> starts;  // MIDI note -> recent start errors
    std::map<int, double> ownGuitar;           // MIDI note -> cents at which this guitar played it
};

}  // namespace landfall
