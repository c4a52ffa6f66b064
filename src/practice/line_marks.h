// How each move of a line was played: what happened, where it landed, how well in time. Pure functions, any thread.
#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "dsp/units.h"
#include "src/music/line.h"
#include "src/practice/landing.h"
#include "src/practice/line_follower.h"

namespace landfall {

class LineChords;

enum class Outcome { landed, wrongNote, missed, died };
std::string_view outcomeName(Outcome outcome);  // "landed", "wrong note", "missed", "died"

// Times count from the first sample heard; what could not be measured is empty.
struct LineMark {
    std::size_t move = 0;
    Outcome outcome = Outcome::missed;
    std::optional<Seconds> onset{};         // the pick stroke, or when it left the move before
    std::optional<Seconds> landingTime{};   // arrival
    std::optional<Cents> landingError{};    // against the move's target at the given A4
    std::optional<Cents> firstStopError{};  // the same from 20 to 150 ms after arrival
    std::optional<Cents> sd{};              // of the landing
    std::optional<Seconds> holdLength{};    // from arrival to the end of what sounds
    std::optional<Seconds> lingered{};      // of a slide or a fall: how long the note that it leaves was heard
    std::optional<MidiPitch> heard{};       // where it landed instead, of a wrong note; of a fall how far it was heard
    std::optional<Seconds> timing{};        // of its anchor against the player's own pulse, late is positive
    Verdict verdict = Verdict::notMeasurable;
    Target target = Target::concert;
    std::vector<StringLanding> strings{};  // of a move of several, from low to high where they start; errors: the worst
    std::optional<Hertz> beat{};           // of a unison
    bool operator==(const LineMark&) const = default;
};

// The pulse stood still before a move, though nothing else was struck there.
struct Wait {
    std::size_t move = 0;
    Seconds length{};  // beyond its beats
    bool operator==(const Wait&) const = default;
};

struct LineMarks {
    std::vector<LineMark> moves;  // one for each move of the line, in its order
    std::vector<Seconds> extra;   // pick strokes that belong to no move
    std::optional<double> tempo;  // quarters a minute, without pauses
    std::vector<Wait> waits;      // in the order of the moves
    bool operator==(const LineMarks&) const = default;
};

// The settled pitch of a move from where it began to where it sounded last, against its target.
struct LinePoint {
    Seconds at;
    std::optional<Cents> fromTarget;
    std::optional<Decibels> level{};  // of one string alone, as its brightness
    double brightness = 0.0;          // as of a PitchFrame
    // Of several strings, from low to high, each against its own target; `fromTarget` is that of the one that counts.
    std::vector<std::optional<Cents>> strings{};
};
using LineTrace = std::vector<LinePoint>;
// One for each move, as it was played last. `chords`, here and below, reads the moves of several strings; without it they
// are not measured.
std::vector<LineTrace> tracesOf(const Line& line, const LineFollower& follower, const LineFollower::Played& played,
                                LineChords* chords = nullptr);

// Nothing more is to come.
LineMarks markLine(const Line& line, const LineFollower& follower, LineChords* chords = nullptr);
// Of the course so far the first frames.
LineMarks markFrames(const Line& line, const LineFollower& follower, std::size_t frames, LineChords* chords = nullptr);

// A move that has landed as a single try, with its sentence.
Landing landingOf(const LineMark& mark, const Move& move, Cents aim);

// The bends, pre-bends, releases and slides of a pass that were played, as tries: for the log. What was missed is none.
// `aim`: what their sentences call good.
std::vector<Landing> triesOf(const Line& line, const LineMarks& marks, Cents aim);
// How many they are where nothing is missed.
int triesIn(const Line& line);

// The moves of a recording as a line: one after another, in free time.
Line lineOf(std::span<const Move> moves);
// Bends, releases and slides of a recording that are not among its landings, or could not be measured there, as the
// line's marks have them: the search over the whole finds a landing in echoes where no single note shows one. `landings`
// in the order of the moves.
void addFromLine(std::vector<Landing>& landings, const Line& line, const LineMarks& marks, Cents aim);

}  // namespace landfall
