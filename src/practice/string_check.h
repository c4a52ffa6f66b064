// The check before practising: each open string's offset in words, tunings that were meant instead, one string after
// another. Pure logic, no clock of its own, one thread.
#pragma once

#include <deque>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "dsp/pitch_frame.h"
#include "dsp/pitch_tracker.h"
#include "dsp/units.h"
#include "src/music/guitar.h"

namespace landfall {

// A note held steadily for a while.
struct HeldNote {
    Seconds time;  // when it was steady
    Hertz pitch;   // median of the stretch
    Cents sd;      // of the stretch
};

// Finds held notes in the settled stream: 350 ms within 8 cents, at least 150 ms after the pick stroke (which starts
// sharp), once a stroke.
class HeldNoteFinder {
public:
    void onset(const Onset& stroke);
    std::optional<HeldNote> frame(const PitchFrame& frame);

private:
    std::optional<Seconds> began;  // the stroke, or when a pitch appeared without one
    bool told = false;             // this stroke's note has been given
    std::deque<PitchFrame> stretch;
};

// The two together with a tracker of their own: sound in, held notes out.
class HeldNoteEar {
public:
    explicit HeldNoteEar(double sampleRate) : tracker({.sampleRate = sampleRate}), rate(sampleRate) {}
    double sampleRate() const { return rate; }
    // Valid until the next call.
    const std::vector<HeldNote>& hear(std::span<const float> samples);

private:
    PitchTracker tracker;
    double rate;
    HeldNoteFinder finder;
    std::vector<HeldNote> notes;
};

// "G string 9 under: tighten it a little", "G string in tune". Offset in cents, + sharp.
std::string tuningAdvice(const Guitar& guitar, int string, Cents offset);

class StringCheck {
public:
    // "In tune" here is 5 cents: dead on in the judge's words, and under the 6 cents at which a drill says that a
    // string has slipped.
    static constexpr double inTuneCents = 5.0;

    struct Reading {
        std::optional<Cents> offset;  // against this guitar's tuning; empty until heard
        bool skipped = false;         // left as it is, or not there
    };

    // Something other than the guitar set fits what was heard.
    struct Offer {
        enum class Kind { halfStepDown, wholeStepDown, lowestStringDown, referencePitch };
        Kind kind;
        Guitar guitar;
        std::string question;  // "The strings are a half step low: is the guitar tuned that way (half step down)?"
        std::string brief;     // "Half step down?"
    };

    explicit StringCheck(Guitar guitar);

    void hear(const HeldNote& note);
    void skip();          // the string asked for: leave it
    void acceptOffer();   // takes the offered guitar; what was heard is read again against it
    void declineOffer();  // keeps the guitar; this offer does not come back

    int asked() const;  // string number; 0 when done
    bool done() const { return asked() == 0; }
    // about the last note heard: "G string 9 under: tighten it a little"
    const std::string& message() const { return said; }
    std::string prompt() const;  // "Play the G string, open" ; done: the summary
    const std::optional<Offer>& offer() const { return offered; }
    const Guitar& guitar() const { return current; }
    const std::vector<Reading>& readings() const { return strings; }  // string 1 first

private:
    void look();
    std::optional<Offer> fitting() const;

    Guitar current;
    std::vector<Reading> strings;
    int last = 0;  // string asked before, 0 = none: the round goes on from there
    std::string said;
    std::optional<Offer> offered;
    std::vector<Offer::Kind> declined;
};

}  // namespace landfall
