// What tries add up to, each gesture by itself: share inside the aim, typical miss, lost. Every figure of several tries
// that the program tells is counted here. Plain values, any thread.
#pragma once

#include <map>
#include <optional>
#include <vector>

#include "src/music/drill.h"
#include "src/practice/landing.h"
#include "src/practice/words.h"

namespace landfall {

// Two strings that rang and what could not be measured are no marks: nothing counts them but `notCounted`.
bool isCounted(const Landing& landing);
// Died, or never landed.
bool isLost(const Landing& landing);
// The first stop within the aim, its edge included; over frets, the fret that was asked. Never another interval or
// fret, however wide the aim.
bool isInside(const Landing& landing, Cents aim);

// The same of a drill's subject: of a hold, that it stayed too.
bool isGood(const Landing& landing, Cents aim, Subject subject);

// Of one gesture.
struct GestureTally {
    Gesture gesture = Gesture::bend;
    int tries = 0;       // marked, guided ones (played with the live trace) too
    int guided = 0;      // of them
    int notCounted = 0;  // beside them
    // Guided tries are left out from here on where there are three others: fewer say nothing by themselves.
    int counted = 0;
    int inside = 0, lost = 0;
    int otherNote = 0;  // another interval or fret than was asked
    // medians of the first stops, without their sign and with it: + over, - under; over frets only where they are
    std::optional<Cents> typicalMiss;
    std::optional<Cents> typicalError;     // held against the own guitar, because else their cents are its setup
    std::optional<Seconds> typicalLinger;  // on the note that a slide leaves
    // Of a drill about the hold: landed well and then sank, usually by so much, or was let go early. `inside` stayed.
    int sank = 0, shortened = 0;
    std::optional<Cents> typicalSag{};
    // Of one about slowness: landed well and too soon; how long it usually took. `inside` was slow enough.
    int hurried = 0;
    std::optional<Seconds> typicalWay{};

    bool operator==(const GestureTally&) const = default;
    double shareInside() const { return counted > 0 ? static_cast<double>(inside) / counted : 0.0; }
};

class Tally {
public:
    explicit Tally(Subject of = Subject::landing) : subject(of) {}
    void add(const Landing& landing, Cents aim, bool guided = false);
    // In the order of the Gesture enumerators, only those that were played.
    std::vector<GestureTally> gestures() const;

private:
    struct Sums {
        int tries = 0, inside = 0, lost = 0, otherNote = 0, shortened = 0, hurried = 0;
        std::vector<double> errors, lingers, sags, ways;
        void add(const Sums& more);
    };
    struct Played {
        Sums guided, others;
        int notCounted = 0;
    };
    Subject subject;
    std::map<Gesture, Played> played;
};

// "Usually 14 cents off, mostly low", "9 of 15 within 25 cents; 2 died."; of several gestures "Usually off by: bends 14,
// releases 6 cents" and the rest of each; of a hold "4 of 6 stayed", of
// slowness "4 of 6 slow enough, usually 3.4 s". Precondition: not empty.
Words wordsOf(const std::vector<GestureTally>& gestures, Cents aim, Subject subject = Subject::landing);

}  // namespace landfall
